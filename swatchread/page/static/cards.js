// The page Cards: photos dropped anywhere are sent one after another; what becomes of each is shown as it happens.
import { afterPause, ask, Refusal, root, say, send, sendForm } from "./page.js";

const AT_ONCE = 3; // photos on their way at the same time: more do not arrive sooner
const MOST_BYTES = Number(document.getElementById("drop").dataset.most);
const shelf = document.getElementById("shelf");
const verdicts = document.getElementById("verdicts");
const fromPhone = document.getElementById("drop").hasAttribute("data-phone");
const awaited = new Map(); // photo -> its line among the verdicts
const known = new Set(); // photos that had a card when they were sent

function element(name, text = "", attributes = {}) {
  const made = document.createElement(name);
  made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

let seen = shelf.innerHTML;

/** Fetch the page anew, and put its shelf in the place of this one. */
const refresh = afterPause(120, async () => {
  let text;
  try {
    text = await (await fetch(location.href, { headers: { accept: "text/html" } })).text();
  } catch {
    return;
  }
  const fresh = new DOMParser().parseFromString(text, "text/html").getElementById("shelf");
  showDoubts();
  if (!fresh || fresh.innerHTML === seen) return; // nothing under a finger is exchanged without need
  const open = [...shelf.querySelectorAll("[data-card] details[open]")].map((one) => one.closest("[data-card]").dataset.card);
  seen = fresh.innerHTML;
  shelf.replaceChildren(...fresh.childNodes);
  for (const card of open) shelf.querySelector(`[data-card="${card}"] details`)?.setAttribute("open", "");
  document.querySelector(".filter").hidden = !shelf.querySelector("[data-card]") && !location.search;
});

/** Tell how much there is to decide, and how long it takes. */
const showDoubts = afterPause(500, async () => {
  const { doubts, time } = await ask("/doubts/count").catch(() => ({ doubts: 0 }));
  const place = document.getElementById("in-doubt");
  place.hidden = !doubts;
  place.firstElementChild.textContent = `${doubts} in doubt: decide one by one, ${time}`;
});
showDoubts();

function told(failure) {
  const lines = [element("p", `${failure.what}.${failure.why ? ` Why: ${failure.why}.` : ""}`)];
  if (failure.remedy) lines.push(element("p", `What to do: ${failure.remedy}.`));
  return lines;
}

function verdictLine(name) {
  const line = element("li");
  line.append(element("h3", name), element("p", "On its way …", { class: "outcome" }));
  verdicts.hidden = false;
  verdicts.querySelector("ol").prepend(line);
  return line;
}

function refuseLine(line, name, failure, id) {
  line.dataset.refused = id;
  line.replaceChildren(element("h3", name), element("p", id ? "Shoot again" : "Not taken", { class: "outcome" }), ...told(failure));
}

async function showVerdict(id, line) {
  const facts = await ask(`/photos/${id}`);
  if (facts.state === "waiting") return;
  awaited.delete(id);
  if (facts.state === "refused") {
    if (!fromPhone) return line.remove(); // it stands among those that could not be read
    refuseLine(line, facts.name, facts.failure, id);
    if (facts.picture) line.append(element("img", "", { src: `${root}/photos/${id}/picture`, alt: `The photo ${facts.name}` }));
    return;
  }
  if (!fromPhone) return line.remove();
  const good = !facts.doubts.length;
  const several = facts.cards > 1;
  const what = `Open the ${several ? `${facts.cards} cards` : "card"}, ${facts.swatches} swatches`;
  const link = element("a", what, { href: several ? `${root}/cards` : `${root}/cards/${facts.card}`, class: "button" });
  line.dataset.good = good;
  line.replaceChildren(element("h3", facts.name), element("p", good ? "Good" : "Read, with doubts", { class: "outcome" }));
  line.append(...facts.doubts.map((doubt) => element("p", doubt)), link);
  if (facts.marked) line.append(element("img", "", { src: `${root}/pictures/${facts.marked}`, alt: "The photo with what was found" }));
}

/** Send a photo; return the card that it had before, if any. */
async function sendOne(file) {
  const line = verdictLine(file.name);
  let card = null;
  if (file.size > MOST_BYTES) return refuseLine(line, file.name, { what: `${file.name} is too large`, remedy: "Use the camera's own file" }, "");
  const form = new FormData();
  form.append("photos", file, file.name);
  try {
    const facts = await sendForm("/photos", form);
    const [photo] = facts.photos;
    card = photo.card;
    known[card ? "add" : "delete"](photo.id);
    line.querySelector(".outcome").textContent = card ? "Already here" : "Being read …";
    awaited.set(photo.id, line);
    await showVerdict(photo.id, line); // it may be known already
  } catch (error) {
    const failure = error.facts?.photos?.[0]?.failure ?? { what: error.message };
    refuseLine(line, file.name, failure, "");
    if (!(error instanceof Refusal)) throw error;
  }
  refresh();
  return card;
}

async function sendAll(files) {
  const waiting = [...files];
  if (!waiting.length) return;
  const count = waiting.length;
  let done = 0, here = 0, card;
  const work = async () => {
    for (let file = waiting.shift(); file; file = waiting.shift()) {
      say(`Sending ${count > 1 ? `photo ${done + 1} of ${count}` : file.name} …`, "busy");
      const before = await sendOne(file);
      if (before) [here, card] = [here + 1, before];
      done += 1;
    }
  };
  await Promise.all(Array.from({ length: Math.min(AT_ONCE, count) }, work));
  if (count > 1) say(here ? `${count} photos sent, ${here === count ? "all" : here} already here` : `${count} photos sent`, "saved");
  else say(here ? `Already here, as card ${card}` : "Photo sent", "saved");
}

const input = document.getElementById("photos");
input.addEventListener("change", () => {
  const files = [...input.files];
  input.value = "";
  sendAll(files);
});
let over = 0;
addEventListener("dragenter", () => document.body.classList.toggle("dropping", ++over > 0));
addEventListener("dragleave", () => document.body.classList.toggle("dropping", --over > 0));
addEventListener("dragover", (event) => event.preventDefault());
addEventListener("drop", (event) => {
  event.preventDefault();
  over = 0;
  document.body.classList.remove("dropping");
  sendAll([...event.dataTransfer.files]);
});
addEventListener("paste", (event) => sendAll([...(event.clipboardData?.files ?? [])]));

const deeds = {
  accept: (id) => send(`/photos/${id}/again`, { accept_poor: true }),
  again: (id) => send(`/photos/${id}/again`, {}),
  drop: (id) => send(`/photos/${id}/drop`),
};
document.addEventListener("click", async (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  try {
    for (const [deed, act] of Object.entries(deeds)) if (button.dataset[deed]) await act(button.dataset[deed]);
    if (button.id === "sample") {
      button.disabled = true;
      say("Reading the sample …", "busy");
      await send("/photos/sample");
    }
    refresh();
  } catch (error) {
    say(error.message, "failed");
  }
});
// A photo that cannot be shown leaves no broken picture.
document.addEventListener("error", (event) => event.target.tagName === "IMG" && event.target.remove(), true);

const wanted = new URLSearchParams(location.search).get("photo"); // the photo that the program was opened with
const news = new EventSource(`${root}/events`);
news.addEventListener("message", (event) => {
  const facts = JSON.parse(event.data);
  if (facts.folder) say(`${facts.name}: ${facts.folder}`, "failed");
  if (facts.state === "read" && facts.photo === wanted) location.replace(`${root}/cards/${facts.card}`);
  const line = awaited.get(facts.photo);
  if (line) showVerdict(facts.photo, line).catch((error) => say(error.message, "failed"));
  else if (facts.state === "read" && !known.has(facts.photo)) say("Read", "saved");
  refresh();
});
news.addEventListener("open", async () => {
  refresh();
  if (wanted) {
    const facts = await ask(`/photos/${wanted}`).catch(() => ({}));
    if (facts.card) location.replace(`${root}/cards/${facts.card}`);
  }
  for (const [id, line] of awaited) showVerdict(id, line).catch(() => {});
});
news.addEventListener("error", () => say("The program does not answer. Start it again with “swatchread open”.", "failed"));
addEventListener("pagehide", () => news.close());
addEventListener("pageshow", (event) => event.persisted && location.reload());
