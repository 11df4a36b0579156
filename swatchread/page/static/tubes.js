// The page Tubes.
import { say, send } from "./page.js";
import { swap } from "./swap.js";

async function keep(path, data) {
  try {
    const { message } = await send(path, data);
    await swap("/tubes", "#questions", "#words");
    say(message, "saved");
    return true;
  } catch (error) {
    say(error.message, "failed");
    return false;
  }
}

document.addEventListener("click", (event) => {
  const { say: word, tube, forget, change } = event.target.closest("button")?.dataset ?? {};
  if (word) keep("/tubes/say", { word, tube });
  if (forget) keep("/tubes/forget", { word: forget });
  if (change) {
    form.elements.word.value = change;
    form.elements.tube.focus();
    form.scrollIntoView({ block: "center" });
  }
});

const form = document.querySelector("#say");
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const { word, tube } = Object.fromEntries(new FormData(form));
  if (await keep("/tubes/say", { word, tube })) {
    form.reset();
    form.elements.word.focus();
  }
});

document.querySelector("#table input").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  if (file) await keep("/tubes/table", { table: await file.text() });
  event.target.value = "";
});
