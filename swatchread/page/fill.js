// The page's keys, the live reading of recipes, and saving. No library.
"use strict";

const form = document.getElementById("words");
const state = document.getElementById("state");
const fields = [...form.querySelectorAll("input")];
const recipes = fields.filter((field) => field.dataset.recipe);
let saved = written();
let busy = false;

function written() {
  return new Map(fields.map((field) => [field, field.value]));
}

// Only what was changed is sent, with what it was before: what nobody touched stays as it is in the note, and what
// another page has changed meanwhile is told.
function changes(now) {
  const words = { recipes: {}, card: {}, before: {} };
  for (const [field, text] of now) {
    if (text === saved.get(field)) continue;
    words.before[field.dataset.recipe || field.dataset.card] = saved.get(field);
    if (field.dataset.recipe) words.recipes[field.dataset.recipe] = text;
    else words.card[field.dataset.card] = text;
  }
  return words;
}

const changed = () => fields.some((field) => field.value !== saved.get(field));

function say(text, trouble) {
  state.textContent = text;
  state.toggleAttribute("data-trouble", Boolean(trouble));
}

async function ask(where, data) {
  const answer = await fetch(where, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(data),
  });
  const facts = await answer.json();
  if (!answer.ok) throw new Error(facts.message || "The program does not answer as it should");
  return facts;
}

// The swatch at hand, large.
function show(field) {
  const row = field.closest("li[data-colour]");
  if (!row) return;
  document.querySelector("#large rect").setAttribute("fill", row.dataset.colour);
  document.getElementById("which").textContent = `${field.id}, ${row.dataset.name}`;
  const crop = document.getElementById("crop");
  crop.hidden = !row.dataset.crop;
  document.getElementById("nocrop").hidden = Boolean(row.dataset.crop);
  if (row.dataset.crop) {
    crop.src = row.dataset.crop;
    crop.alt = `Handwriting beside ${field.id}`;
  }
}

// How the recipe is understood, while it is written. Answers may overtake each other: the latest question counts.
const asked = new Map();
const waiting = new Map();

function read(field) {
  clearTimeout(waiting.get(field));
  waiting.set(field, setTimeout(() => readNow(field), 120));
}

async function readNow(field) {
  const turn = (asked.get(field) || 0) + 1;
  asked.set(field, turn);
  try {
    const told = await ask("recipe", { text: field.value });
    if (asked.get(field) !== turn) return;
    const place = document.getElementById(`${field.id}-told`);
    place.querySelector("p").textContent = told.plain;
    place.querySelector("ul").replaceChildren(
      ...[...told.doubts, ...told.cautions].map((line) => {
        const item = document.createElement("li");
        item.textContent = line;
        return item;
      }),
    );
    place.dataset.read = field.value;
  } catch {
    say("The program has stopped: what you write now cannot be saved", true);
  }
}

async function save(close) {
  if (busy) return;
  busy = true;
  const words = written();
  try {
    say("Saving …");
    const facts = await ask("save", changes(words));
    saved = words;
    say(facts.message);
    if (close) {
      await ask("close", {});
      const done = document.createElement("p");
      done.className = "done";
      done.id = "done";
      done.textContent = `${facts.message}. You can close this page.`;
      form.replaceChildren(done);
    }
  } catch (error) {
    say(error.message === "Failed to fetch" ? "The program has stopped: nothing was saved" : error.message, true);
  } finally {
    busy = false;
  }
}

function go(list, field, step) {
  const next = list[list.indexOf(field) + step];
  if (next) {
    next.focus();
    next.select();
    next.closest("li")?.scrollIntoView({ block: "nearest" });
  } else if (step > 0 && list === fields) {
    document.getElementById("close").focus();
  }
}

form.addEventListener("focusin", (event) => show(event.target));
form.addEventListener("input", (event) => {
  if (event.target.dataset.recipe) read(event.target);
  say(changed() ? "Not saved yet" : "Nothing changed");
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  save(true);
});
document.getElementById("save").addEventListener("click", () => save(false));
document.addEventListener("keydown", (event) => {
  if (event.isComposing) return;
  const control = event.ctrlKey || event.metaKey;
  if (control && event.key === "s") {
    event.preventDefault();
    save(false);
  } else if (control && event.key === "Enter") {
    event.preventDefault();
    save(true);
  } else if (event.key === "Enter" && event.target.tagName === "INPUT") {
    event.preventDefault();
    go(fields, event.target, 1);
  } else if (recipes.includes(event.target) && ["ArrowDown", "ArrowUp"].includes(event.key)) {
    event.preventDefault();
    go(recipes, event.target, event.key === "ArrowDown" ? 1 : -1);
  }
});
window.addEventListener("beforeunload", (event) => {
  if (document.getElementById("done") === null && changed()) event.preventDefault();
});

(recipes.find((field) => !field.value) || fields[0]).focus();
