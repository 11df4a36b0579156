// Today's photo of an earlier card: chosen or dropped, sent, and read.
import { ask, say, sendForm } from "./page.js";

/** Call a function with the photo that is chosen in the field “today” or dropped anywhere on the page. */
export function onPhoto(take) {
  addEventListener("change", (event) => event.target.id === "today" && take(event.target.files[0]));
  addEventListener("dragover", (event) => event.preventDefault());
  addEventListener("drop", (event) => {
    event.preventDefault();
    take(event.dataTransfer.files[0]);
  });
}

/** Send a photo and wait until it is read; return its card, or nothing if that failed and was said. */
export async function readPhoto(file) {
  if (!file) return null;
  const data = new FormData();
  data.append("photos", file, file.name);
  say(`Reading ${file.name} …`, "busy");
  try {
    const { photos } = await sendForm("/photos", data);
    for (;;) {
      const facts = await ask(`/photos/${photos[0].id}`);
      if (facts.state === "refused") throw new Error(facts.failure.message ?? `${facts.failure.what}. ${facts.failure.remedy}`);
      if (facts.card && facts.state === "read") return facts.card;
      await new Promise((later) => setTimeout(later, 300));
    }
  } catch (error) {
    say(error.facts?.photos?.[0]?.failure?.message ?? error.message, "failed");
    return null;
  }
}
