// The page Changes: cards are chosen, a photo is dropped, and what cannot have changed is pressed.
import { root, say } from "./page.js";
import { questionOf, swap } from "./swap.js";
import { onPhoto, readPhoto } from "./today.js";

const form = document.querySelector("#ask");

function placePairs() {
  for (const list of document.querySelectorAll("[data-columns]")) {
    list.style.setProperty("--columns", list.dataset.columns);
    for (const item of list.children) {
      const [row, column] = item.dataset.place.split(" ");
      item.style.setProperty("--place", `${row} / ${column}`);
    }
  }
}
document.addEventListener("swapped", placePairs);
placePairs();

async function compare() {
  const asked = questionOf(form);
  say("Comparing …", "busy");
  offerAnother();
  if (asked.getAll("card").length < 2) return say("");
  if (!(await swap(`/changes?${asked}`, "#answer"))) return;
  history.replaceState(null, "", `${root}/changes?${asked}`);
  say("");
}

/** Keep one empty choice behind those that are made. */
function offerAnother() {
  const choices = [...form.querySelectorAll("select[name=card]")];
  if (choices.some((choice) => !choice.value)) return;
  const another = choices.at(-1).parentElement.cloneNode(true);
  another.querySelector("span").textContent = "And then";
  another.querySelector("select").value = "";
  choices.at(-1).parentElement.after(another);
}

form.addEventListener("change", (event) => {
  if (event.target.id === "today") return;
  forget();
  compare();
});
form.addEventListener("submit", (event) => event.preventDefault());
const forget = () => form.querySelectorAll("[name=anchor]").forEach((field) => field.remove());

document.addEventListener("click", async (event) => {
  const anchor = event.target.closest("[data-anchor]")?.dataset.anchor;
  if (!anchor) return;
  const held = form.querySelector(`[name=anchor][value="${anchor}"]`);
  if (held) held.remove();
  else form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "anchor", value: anchor }));
  await compare();
  document.querySelector(`[data-anchor="${anchor}"]`)?.focus();
});

async function takePhoto(file) {
  const card = await readPhoto(file);
  if (!card) return;
  const choices = [...form.querySelectorAll("select[name=card]")];
  if (choices.some((choice) => choice.value === String(card))) return say(`This is the same photo: it is chosen already, as card ${card}`, "failed");
  const place = choices.slice(1).find((choice) => !choice.value) ?? choices.at(-1);
  place.append(new Option(`${card} · ${file.name}`, card, true, true));
  await compare();
  if (form.querySelector("select").value) say("Read and compared", "saved");
  else say("Read. Now choose the earlier photo", "saved");
}
onPhoto(takePhoto);
