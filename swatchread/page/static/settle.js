// Words in doubt, on whatever page they are met: one press settles a word for all cards.
import { root, say, send } from "./page.js";

for (const place of document.querySelectorAll("[data-questions]")) {
  const show = async () => {
    try {
      const answer = await fetch(`${root}/tubes/asked?${place.dataset.questions}`);
      if (answer.ok) place.innerHTML = await answer.text();
    } catch {
      // The page is whole without its questions; the next save says that the program does not answer.
    }
  };
  place.addEventListener("click", async (event) => {
    const { say: word, tube } = event.target.closest("button")?.dataset ?? {};
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
  show();
}
