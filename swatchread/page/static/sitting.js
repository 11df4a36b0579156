// The page Sitting: the plan follows the form, and a chip can be swapped for another mixture.
import { afterPause, root, say } from "./page.js";
import { questionOf, swap } from "./swap.js";

const form = document.querySelector("#ask");
const dialog = document.querySelector("#others");

async function plan(moved) {
  const asked = questionOf(form);
  say("Planning …", "busy");
  if (!(await swap(`/sitting?${asked}&wait=1`, "#plan", "#tubes"))) return;
  history.replaceState(null, "", `${root}/sitting?${asked}`);
  say("");
  link();
  if (moved) document.querySelector(`[data-step="${moved.step}"][data-role="${moved.role}"]`)?.classList.add("moved");
}

function link() {
  for (const sheet of document.querySelectorAll("[data-sheet]")) {
    const asked = questionOf(form);
    if (sheet.dataset.sheet) asked.set("ink", sheet.dataset.sheet);
    sheet.href = `${root}/sitting/sheet?${asked}`;
  }
}

const soon = afterPause(400, () => plan());
form.addEventListener("input", soon);
form.addEventListener("submit", (event) => {
  event.preventDefault();
  soon.now();
});

document.addEventListener("click", async (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const { step, role, take } = button.dataset;
  if (step) {
    const asked = questionOf(form);
    asked.set("step", step);
    asked.set("role", role);
    dialog.innerHTML = '<div id="alternatives" class="ground"><p>Looking …</p></div>';
    dialog.showModal();
    await swap(`/sitting/alternatives?${asked}`, "#alternatives");
    dialog.querySelector("button")?.focus();
  }
  if (take) {
    const place = take.split(":", 2).join(":");
    for (const field of form.querySelectorAll("[name=swap]")) if (field.value.startsWith(`${place}:`)) field.remove();
    form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "swap", value: take }));
    dialog.close();
    const [number, which] = take.split(":");
    await plan({ step: number, role: which });
    document.querySelector(`[data-step="${number}"][data-role="${which}"]`)?.focus();
  }
  if ("close" in button.dataset) dialog.close();
  if (button.id === "unswap") {
    for (const field of form.querySelectorAll("[name=swap]")) field.remove();
    plan();
  }
});
dialog.addEventListener("click", (event) => {
  if (event.target === dialog) dialog.close();
});

document.addEventListener("settled", () => plan());
link();
if (document.querySelector("[data-learning]")) plan();
