// Words in doubt, on whatever page they are met: one press settles a word for all cards.
import { afterPause, root, say, send } from "./page.js";

/** Put questions in their place; what the painter is at does not move under the hands. */
function put(place, questions) {
  if (place.dataset.shown === questions) return;
  const at = document.activeElement;
  const before = at.getBoundingClientRect().top;
  const unfolded = place.querySelector("details")?.open;
  place.innerHTML = questions;
  if (unfolded) place.querySelector("details")?.setAttribute("open", "");
  place.dataset.shown = questions;
  if (at !== document.body && at.isConnected) scrollBy(0, at.getBoundingClientRect().top - before);
}

async function show() {
  for (const place of document.querySelectorAll("[data-questions]")) {
    try {
      const answer = await fetch(`${root}/tubes/asked?${place.dataset.questions}`);
      if (answer.ok) put(place, await answer.text());
    } catch {
      // The page is whole without its questions; the next save says that the program does not answer.
    }
  }
}

document.addEventListener("click", async (event) => {
  const { say: word, tube } = event.target.closest("[data-questions] button")?.dataset ?? {};
  if (!word) return;
  try {
    const { message } = await send("/tubes/say", { word, tube });
    await show();
    say(message, "saved");
    document.dispatchEvent(new CustomEvent("settled"));
  } catch (error) {
    say(error.message, "failed");
  }
});
document.addEventListener("recipes", afterPause(1000, show)); // what was just typed may leave something open
show();
