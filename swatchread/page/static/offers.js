// What the handwriting may say is offered in the empty fields of a card: recipes, title, sitter and date. Nothing counts before the painter takes it.
import { choicesBeside, root } from "./page.js";

const card = document.getElementById("card");

const fields = () => [...card.querySelectorAll("[name=recipe]")];
const lines = () => [...card.querySelectorAll("[data-field]")]; // title, sitter, date
const isOpen = (field) => field.dataset.offer && !field.value;
const sureFields = () => fields().filter((field) => isOpen(field) && field.dataset.sure === "yes");

function take(field) {
  field.value = field.dataset.offer;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
  show(field);
}

function show(field) {
  if (field.dataset.field) return;
  const row = field.closest("[data-swatch]");
  row.querySelector("[data-take]").hidden = !isOpen(field);
  const left = sureFields();
  const all = card.querySelector("[data-take-all]");
  all.closest("[data-offers]").hidden = !fields().some(isOpen);
  all.textContent = `Take the ${left.length} that are sure`;
  all.hidden = !left.length;
}

function offer(field, facts) {
  field.dataset.offer = facts.text;
  field.dataset.sure = facts.unsure.length ? "no" : "yes";
  field.placeholder = facts.text;
  const row = field.closest("[data-swatch]");
  const button = row.querySelector("[data-take]");
  button.textContent = facts.unsure.length ? `Take it; look closely at ${facts.unsure.join(", ")}` : "Take it";
  button.onclick = () => take(field);
  field.addEventListener("input", () => show(field));
  field.addEventListener("keydown", (event) => {
    if (event.key === "ArrowRight" && isOpen(field)) {
      event.preventDefault();
      take(field);
    }
  });
  show(field);
}

/** Offer a line of the card; where a date may mean two days, the painter chooses one. */
function offerLine(field, facts) {
  if (!field || field.value) return;
  if (facts.text) {
    field.dataset.offer = field.placeholder = facts.text;
    field.title = facts.unsure.length ? `From the handwriting; look closely at ${facts.unsure.join(", ")}` : "From the handwriting";
  }
  field.addEventListener("keydown", (event) => {
    if (event.key === "ArrowRight" && isOpen(field)) {
      event.preventDefault();
      take(field);
    }
  });
  const box = choicesBeside(field, facts.choices ?? [[facts.text, "Take it"]], () => take(field));
  field.addEventListener("input", () => box.remove());
}

function takeAll() {
  for (const field of sureFields()) take(field);
}

async function ask() {
  if (!card.querySelector("[data-offers]")) return;
  const answer = await fetch(`${root}/cards/${card.dataset.card}/offers`);
  if (!answer.ok) return;
  const offered = await answer.json();
  for (const [name, facts] of Object.entries(offered.card)) offerLine(lines().find((field) => field.dataset.field === name), facts);
  for (const facts of offered.swatches) {
    const field = card.querySelector(`[data-swatch="${CSS.escape(facts.id)}"] [name=recipe]`);
    if (field && !field.value) offer(field, facts);
  }
}

card.addEventListener("click", (event) => {
  if (event.target.closest("[data-take-all]")) takeAll();
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey) && card.querySelector("[data-take-all]:not([hidden])")) takeAll();
});
document.addEventListener("swatches", ask);
ask();
