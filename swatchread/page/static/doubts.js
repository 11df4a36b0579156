// The page Doubts: one decision after the other. Enter takes, Escape leaves, Page down puts off.
import { ask, choicesBeside, root, saveWhileTyping, say, send } from "./page.js";

const round = document.getElementById("round");
const MOST_SECONDS = 86400;
let shownAt = 0; // when the doubt came, without the time in which the page was hidden
let hiddenAt = 0;
let saving = [];
let deciding = false;

const doubt = () => round.querySelector(".doubt");
const fields = () => [...round.querySelectorAll("input")];
const isOpen = (field) => !field.value.trim();
const isSure = (field) => field.dataset.offer && field.dataset.sure === "yes";

document.addEventListener("visibilitychange", () => {
  if (document.hidden) hiddenAt = performance.now();
  else shownAt += performance.now() - hiddenAt;
});

function fill(field) {
  field.value = field.dataset.offer;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

function wire(field, path) {
  const swatch = field.closest("[data-swatch]")?.dataset.swatch ?? null;
  const name = field.dataset.field ?? "recipe";
  const control = saveWhileTyping(field, async (text, was) => {
    const facts = await send(`${path}/words`, { swatch, field: name, text, was });
    const look = field.closest("li")?.querySelector("[data-look]");
    const told = [...(facts.doubts ?? []), ...(facts.cautions ?? [])];
    if (look) {
      look.textContent = told.join(" ");
      look.hidden = !told.length;
    }
  });
  field.addEventListener("notsaved", (event) => {
    const theirs = event.detail.facts?.theirs;
    if (theirs !== undefined) control.take(theirs); // someone else was faster: the text shows what stands there now
  });
  saving.push(control);
}

/** Put what the handwriting may say into its field, greyed; what is unsure comes first. */
function offer(field, facts) {
  if (!field || !isOpen(field)) return;
  if (facts.text) field.dataset.offer = facts.text;
  field.dataset.sure = facts.unsure.length ? "no" : "yes";
  field.placeholder = facts.text;
  const look = field.closest("li")?.querySelector("[data-look]") ?? null;
  if (look && facts.unsure.length) {
    look.textContent = `Look closely at ${facts.unsure.join(", ")}`;
    look.hidden = false;
  }
}

async function askForOffers(card) {
  const reading = round.querySelector("[data-reading]");
  const list = round.querySelector(".open-recipes");
  if (!list.querySelector(".writing")) return;
  reading.hidden = false;
  const facts = await ask(`/cards/${card}/offers`).catch(() => ({ swatches: [] }));
  if (doubt()?.dataset.card !== card) return;
  reading.hidden = true;
  for (const one of facts.swatches) offer(list.querySelector(`[data-swatch="${CSS.escape(one.id)}"] input`), one);
  for (const [name, one] of Object.entries(facts.card ?? {})) offerLine(round.querySelector(`[data-field="${CSS.escape(name)}"]`), one);
  if (document.activeElement?.closest(".open-recipes")?.querySelector("input")?.value) return; // nothing moves under the hands
  for (const row of [...list.children]) if (isSure(row.querySelector("input"))) list.append(row);
  focusFirst();
}

/** Offer a line of the card; where a date may mean several days, the painter chooses one. */
function offerLine(field, facts) {
  offer(field, { text: facts.text, unsure: facts.unsure });
  if (!field || !isOpen(field) || !facts.choices?.length) return;
  const box = choicesBeside(field, facts.choices, () => {
    fill(field);
    box.remove();
  });
}

function focusFirst() {
  const first = fields()[0];
  (first ?? round.querySelector(".deeds .primary, .deeds button") ?? round.querySelector("h1"))?.focus({ preventScroll: true });
}

function show() {
  shownAt = performance.now();
  saving = [];
  const now = doubt();
  const card = now?.dataset.card;
  if (now?.dataset.kind === "recipes" && card) {
    for (const field of fields()) wire(field, `/cards/${card}`);
    askForOffers(card);
  }
  document.dispatchEvent(new CustomEvent("recipes")); // the questions about tubes come into their place
  focusFirst();
  scrollTo(0, 0);
}

async function decide(deed) {
  const now = doubt();
  if (!now || deciding) return;
  if (deed === "take" && now.dataset.kind === "recipes") {
    for (const field of fields()) if (isOpen(field) && isSure(field)) fill(field);
    const left = fields().filter((field) => field.matches("[data-recipe]") && isOpen(field));
    if (left.length) {
      say(`${left.length} still open: Enter takes what is offered, or type`, "idle");
      left[0].focus();
      return;
    }
  }
  deciding = true;
  try {
    await Promise.all(saving.map((control) => control.save()));
    if (round.querySelector("[aria-invalid]")) return;
    const seconds = Math.min((performance.now() - shownAt) / 1000, MOST_SECONDS);
    const answer = await fetch(`${root}/doubts/decide`, {
      method: "POST",
      headers: { "content-type": "application/json", accept: "application/json" },
      body: JSON.stringify({ key: now.dataset.key, deed, seconds }),
    });
    if (!answer.ok) throw new Error((await answer.json()).message);
    round.innerHTML = await answer.text();
    say({ take: "Taken", skip: "Left as it is", later: "Comes again at the end" }[deed], deed === "later" ? "idle" : "saved");
    show();
  } catch (error) {
    say(error.message || "The program does not answer", "failed");
  } finally {
    deciding = false;
  }
}

function next(field) {
  const open = fields().filter(isOpen);
  const after = open.find((other) => field.compareDocumentPosition(other) & Node.DOCUMENT_POSITION_FOLLOWING && !isSure(other));
  if (after) after.focus();
  else decide("take");
}

document.addEventListener("click", async (event) => {
  const { deed, accept } = event.target.closest("#round button")?.dataset ?? {};
  if (deed) decide(deed);
  if (accept) {
    await send(`/photos/${accept}/again`, { accept_poor: true }).catch((error) => say(error.message, "failed"));
    decide("later");
  }
});

document.addEventListener("keydown", (event) => {
  if (event.isComposing || event.ctrlKey || event.metaKey || event.altKey) return;
  const field = event.target.closest?.("#round input");
  if (event.key === "Enter" && field) {
    event.preventDefault();
    if (isOpen(field) && field.dataset.offer) fill(field);
    if (!isOpen(field) || field.dataset.field) next(field);
  } else if (event.key === "Enter" && !event.target.closest?.("a, button, summary")) decide("take");
  else if (event.key === "ArrowRight" && field && isOpen(field) && field.dataset.offer) {
    event.preventDefault();
    fill(field);
  } else if (event.key === "Escape") {
    if (field) field.blur();
    else if (round.querySelector("[data-deed=skip]")) decide("skip");
  } else if (event.key === "PageDown") {
    event.preventDefault();
    decide("later");
  }
});
document.addEventListener("settled", () => doubt()?.dataset.key === "tubes" && !round.querySelector("[data-question]") && decide("later"));
show();
