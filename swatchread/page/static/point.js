// A photo that could not be read: the painter says where chart and card lie.
import { root, say, send } from "./page.js";
import { PhotoStage } from "./photo_stage.js";

const form = document.getElementById("point");
const boxes = ["chart", "card"].map((kind) => document.getElementById(`use-${kind}`));
const tick = (kind) => {
  document.getElementById(`use-${kind}`).checked = true; // whoever drags a corner means it
};
const stage = new PhotoStage(document.getElementById("stage"), { corners: tick, lines() {}, point() {}, pick() {} });
stage.use("corners");

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const hints = { ...stage.drawn.hints };
  for (const box of boxes) hints[box.value] = box.checked ? stage.drawn[box.value] : null;
  try {
    say("Reading …", "busy");
    await send(`/photos/${form.dataset.photoId}/again`, { hints });
    location.href = `${root}/cards?photo=${form.dataset.photoId}`;
  } catch (error) {
    say(error.message, "failed");
  }
});
