// Letting a phone in and shutting it out.
import { say, send } from "./page.js";

for (const [id, path] of [["open", "/phone/open"], ["close", "/phone/close"]]) {
  document.getElementById(id)?.addEventListener("click", async () => {
    try {
      await send(path);
      location.reload();
    } catch (error) {
      say(error.message, "failed");
    }
  });
}
