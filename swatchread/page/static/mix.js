// The page Mix: the answer follows the form; a photo of a dab fills in its colour.
import { afterPause, root, say, sendForm } from "./page.js";
import { questionOf, swap } from "./swap.js";

const form = document.querySelector("#ask");

async function answer() {
  const asked = questionOf(form);
  say("Thinking …", "busy");
  if (!(await swap(`/mix?${asked}&wait=1`, "#answer", "#tubes"))) return;
  history.replaceState(null, "", `${root}/mix?${asked}`);
  say("");
}

const soon = afterPause(500, answer);
document.addEventListener("settled", answer);
if (document.querySelector("[data-learning]")) answer();
form.addEventListener("input", (event) => {
  if (event.target.type !== "file") soon();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  soon.now();
});

form.addEventListener("change", async (event) => {
  const [file] = event.target.files ?? [];
  if (!file) return;
  const field = form.elements[event.target.dataset.dab];
  const data = new FormData();
  data.append("photos", file, file.name);
  event.target.value = "";
  say(`Reading ${file.name} …`, "busy");
  try {
    const read = await sendForm("/mix/dab", data);
    field.value = read.colour;
    await answer();
    say(read.doubts.length ? `Read, with doubts: ${read.doubts.join(" ")}` : "Read", read.doubts.length ? "failed" : "saved");
  } catch (error) {
    say(error.message, "failed");
  }
});
