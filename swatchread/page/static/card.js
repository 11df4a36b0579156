// The page of a card: recipes are saved as they are typed; what is pointed at on the photo is read again.
import { afterPause, root, saveWhileTyping, say, send } from "./page.js";
import { PhotoStage } from "./photo_stage.js";
import { onPhoto, readPhoto } from "./today.js";

const card = document.getElementById("card");
const path = `/cards/${card.dataset.card}`;
const host = document.getElementById("stage");
const SAME_PLACE = 0.02; // of the photo's width: a click so near to an earlier one takes that back

const HINTS = {
  corners: "Drag a corner of the card or of the chart to where it belongs. The reading follows.",
  lines: "Drag a line to where rows or columns part; near its end it turns. Or say how many there are.",
  add: "Click the middle of a swatch that was missed.",
  remove: "Click what is not a swatch.",
};

let stage = null;
let saving = []; // what saves each field of the page

// --- words

function showUnderstood(told, facts) {
  told.querySelector("[data-plain]").textContent = facts.plain;
  told.querySelector("[data-open]").replaceChildren(...[...facts.doubts, ...facts.cautions].map((line) => {
    const item = document.createElement("li");
    item.textContent = line;
    return item;
  }));
  told.querySelector("[data-settle]").hidden = !facts.ambiguous;
}

function follow(edition) {
  const known = Number(card.dataset.edition);
  card.dataset.edition = edition;
  if (edition > known + 1) refresh(); // someone else changed the card, too
}

function choose(field, control, error) {
  field.closest(".field, .swatch-words").querySelector(".conflict")?.remove();
  const theirs = error.facts?.theirs;
  if (theirs === undefined) return;
  const box = document.createElement("div");
  box.className = "conflict";
  box.setAttribute("role", "alert");
  const line = document.createElement("p");
  line.textContent = theirs ? `Elsewhere this was changed to “${theirs}”.` : "Elsewhere this was erased.";
  box.append(line);
  for (const [text, keep] of [["Keep what I typed", true], ["Take the other", false]]) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = text;
    button.addEventListener("click", () => {
      box.remove();
      if (keep) {
        control.know(theirs);
        control.save();
      } else {
        control.take(theirs);
        say("Took the other text", "saved");
        field.dispatchEvent(new Event("understand"));
      }
      field.focus();
    });
    box.append(button);
  }
  field.insertAdjacentElement("afterend", box);
}

function keepField(field, swatch, name, done = () => {}) {
  const control = saveWhileTyping(field, async (text, was) => {
    const facts = await send(`${path}/words`, { swatch, field: name, text, was });
    follow(facts.edition);
    done(facts);
    if (facts.remark) setTimeout(() => say(facts.remark, "failed"));
  });
  field.addEventListener("notsaved", (event) => choose(field, control, event.detail));
  saving.push(control);
}

function wireWords() {
  saving = [];
  for (const field of card.querySelectorAll("[data-field]")) keepField(field, null, field.dataset.field);
  for (const row of card.querySelectorAll("[data-swatch]")) {
    const id = row.dataset.swatch;
    const field = row.querySelector("[name=recipe]");
    const told = row.querySelector(".told");
    const understand = async () => {
      try {
        showUnderstood(told, await send("/recipe", { text: field.value }));
      } catch {
        // Saving tells what is wrong; this is only a comment on what is typed.
      }
    };
    field.addEventListener("input", afterPause(250, understand));
    field.addEventListener("understand", understand);
    keepField(field, id, "recipe", (facts) => {
      showUnderstood(told, facts);
      document.dispatchEvent(new CustomEvent("recipes"));
    });
    field.addEventListener("focus", () => stage?.mark(id));
  }
  const fields = [...card.querySelectorAll("[name=recipe]")];
  fields.forEach((field, k) => field.addEventListener("keydown", (event) => {
    const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || event.isComposing) return;
    event.preventDefault();
    fields[k + step]?.focus();
  }));
  document.getElementById("remove").addEventListener("click", removeCard);
}

async function removeCard(event) {
  const button = event.currentTarget;
  if (button.textContent !== button.dataset.sure) {
    button.textContent = button.dataset.sure;
    return;
  }
  try {
    await send(`${path}/remove`, { edition: Number(card.dataset.edition) });
    location.href = `${root}/cards`;
  } catch (error) {
    say(error.message, "failed");
  }
}

// --- corrections

const allSaved = () => Promise.all(saving.map((control) => control.save()));

/** Fetch the page anew and put its swatches in the place of these. */
async function refresh() {
  const text = await (await fetch(location.href, { headers: { accept: "text/html" } })).text();
  const fresh = new DOMParser().parseFromString(text, "text/html");
  const found = fresh.getElementById("card");
  if (!found) return location.reload();
  const at = document.activeElement?.id;
  card.dataset.edition = found.dataset.edition;
  found.querySelector("[data-questions]").replaceWith(card.querySelector("[data-questions]"));
  card.querySelector(".swatches").replaceWith(found.querySelector(".swatches"));
  document.dispatchEvent(new CustomEvent("swatches"));
  const drawn = fresh.getElementById("stage");
  if (stage && drawn) {
    stage.take(JSON.parse(drawn.dataset.drawn), drawn.dataset.photo);
    host.dataset.marked = drawn.dataset.marked;
    showMarked();
  }
  for (const id of ["undo", "grid-rows", "grid-columns"]) {
    const [mine, theirs] = [document.getElementById(id), fresh.getElementById(id)];
    if (mine && theirs) {
      mine.disabled = theirs.disabled;
      if ("value" in mine && mine.tagName === "INPUT") mine.value = theirs.value;
    }
  }
  wireWords();
  document.dispatchEvent(new CustomEvent("recipes"));
  if (at) document.getElementById(at)?.focus({ preventScroll: true });
}

let reading = Promise.resolve();

/** Do something that is read again; one after another, so that none is lost. */
function change(act, doing) {
  reading = reading.then(async () => {
    host.setAttribute("aria-busy", "true");
    say(doing, "busy");
    try {
      await allSaved();
      const facts = await act();
      await refresh();
      say(facts.remark || `Read again: ${facts.swatches} swatches`, facts.remark ? "failed" : "saved");
    } catch (error) {
      await refresh().catch(() => {});
      say(error.message, "failed");
    }
    host.removeAttribute("aria-busy");
  });
  return reading;
}

const edition = () => Number(card.dataset.edition);
/** Read again with changed hints; `changed` makes them from today's. */
const correct = (changed) => change(
  () => send(`${path}/correct`, { edition: edition(), hints: { ...stage.drawn.hints, ...changed(stage.drawn.hints) } }),
  "Reading again …",
);

function near(one, other) {
  return Math.hypot(one[0] - other[0], one[1] - other[1]) < SAME_PLACE * stage.drawn.width;
}

const acts = {
  corners: (kind, places) => {
    const moved = structuredClone(places);
    return correct(() => ({ [kind]: moved }));
  },
  lines: (rows, columns) => {
    const moved = structuredClone({ rows, columns });
    return correct(() => ({ ...moved, grid: null }));
  },
  point: (tool, place, id) => {
    if (tool === "remove" && !id) return say("Click on a swatch that is none", "failed");
    const [mine, opposite] = tool === "add" ? ["added", "removed"] : ["removed", "added"];
    return correct((hints) => {
      const kept = hints[opposite].filter((other) => !near(other, place));
      const takenBack = kept.length < hints[opposite].length;
      return { [opposite]: kept, [mine]: takenBack ? hints[mine] : [...hints[mine], place] };
    });
  },
  pick: (id) => {
    const row = document.getElementById(id);
    row?.scrollIntoView({ block: "nearest" });
    row?.querySelector("[name=recipe]").focus({ preventScroll: true });
  },
};

function showMarked() {
  const button = document.querySelector("[data-show=marked]");
  const wanted = button?.getAttribute("aria-pressed") === "true";
  if (stage) {
    stage.picture(wanted ? host.dataset.marked : stage.host.dataset.photo);
    stage.layer.classList.toggle("away", wanted);
  }
}

function wireTools() {
  stage = new PhotoStage(host, acts);
  const tools = [...card.querySelectorAll("[data-tool]")];
  const hint = document.getElementById("hint");
  for (const button of tools) button.addEventListener("click", () => {
    for (const other of tools) other.setAttribute("aria-pressed", other === button);
    stage.use(button.dataset.tool);
    hint.textContent = HINTS[button.dataset.tool] ?? "";
    hint.hidden = !hint.textContent;
    document.getElementById("grid-size").hidden = button.dataset.tool !== "lines";
  });
  for (const button of card.querySelectorAll("[data-zoom]")) button.addEventListener("click", () => {
    if (button.dataset.zoom === "all") stage.showAll();
    else stage.zoom(button.dataset.zoom === "in" ? 1.5 : 1 / 1.5);
  });
  const marked = card.querySelector("[data-show=marked]");
  marked?.addEventListener("click", () => {
    marked.setAttribute("aria-pressed", marked.getAttribute("aria-pressed") !== "true");
    showMarked();
  });
  // Who reaches for these tools will correct something: the photo is decoded and searched meanwhile.
  const reach = () => send(`${path}/in-hand`).catch(() => {});
  const correcting = document.getElementById("correct");
  for (const sign of ["pointerover", "focusin"]) correcting?.addEventListener(sign, reach, { once: true });
  // On a card that is turned by a quarter, the rows become columns.
  card.querySelector("[data-turn]")?.addEventListener("click", () => correct((hints) => ({
    quarters: (hints.quarters + 3) % 4,
    rows: hints.columns,
    columns: hints.rows,
    grid: hints.grid && [hints.grid[1], hints.grid[0]],
  })));
  document.getElementById("undo")?.addEventListener("click", () => change(
    () => send(`${path}/undo`, { edition: edition() }), "Undoing …",
  ));
  document.getElementById("set-grid")?.addEventListener("click", () => {
    const size = ["grid-rows", "grid-columns"].map((id) => Number(document.getElementById(id).value));
    correct(() => ({ grid: size, rows: null, columns: null }));
  });
}

if (host) wireTools();
wireWords();
document.addEventListener("settled", () => {
  for (const field of card.querySelectorAll("[name=recipe]")) if (field.value) field.dispatchEvent(new Event("understand"));
});
onPhoto(async (file) => {
  const other = await readPhoto(file);
  if (String(other) === card.dataset.card) say("This is the photo of this card itself", "failed");
  else if (other) location.href = `${root}/changes?card=${card.dataset.card}&card=${other}`;
});
addEventListener("keydown", (event) => {
  if ((event.ctrlKey || event.metaKey) && event.key === "s") {
    event.preventDefault();
    allSaved();
  }
  const typing = event.target.matches?.("input, textarea");
  if ((event.ctrlKey || event.metaKey) && event.key === "z" && !typing) document.getElementById("undo")?.click();
});
