// What all pages share: addresses, requests, saying what was saved, and saving while one types.

/** What every address begins with; it holds the token. */
export const root = document.body.dataset.root;

const status = document.querySelector('[role="status"]');

document.querySelector(".top [aria-current]")?.scrollIntoView({ inline: "center", block: "nearest" });

/** Say in the page's status line what happened. `state` is idle, busy, saved or failed. */
export function say(text, state = "idle") {
  status.textContent = text;
  status.dataset.state = state;
}

/** A request that was answered, but not with success; `facts` are message, what, why, remedy and more. */
export class Refusal extends Error {
  constructor(status, facts) {
    super(facts.message || "The program did not take this");
    this.status = status;
    this.facts = facts;
  }
}

async function answered(path, options) {
  let response;
  try {
    response = await fetch(root + path, options);
  } catch {
    throw new Refusal(0, { message: "The program does not answer: nothing was saved. What you typed stays here; start it again with “swatchread open”." });
  }
  const isJson = (response.headers.get("content-type") || "").startsWith("application/json");
  const facts = isJson ? await response.json() : {};
  if (!response.ok) throw new Refusal(response.status, facts);
  return facts;
}

/** Ask for JSON. */
export const ask = (path) => answered(path, { headers: { accept: "application/json" } });

/** Send something as JSON, and return the answer's JSON. A refusal is thrown as `Refusal`. */
export const send = (path, data = {}) =>
  answered(path, {
    method: "POST",
    headers: { "content-type": "application/json", accept: "application/json" },
    body: JSON.stringify(data),
  });

/** Send files with a form's fields. */
export const sendForm = (path, form) => answered(path, { method: "POST", body: form, headers: { accept: "application/json" } });

/** Call a function when nobody has called for it for a while. */
export function afterPause(milliseconds, act) {
  let timer;
  const later = (...given) => {
    clearTimeout(timer);
    timer = setTimeout(() => act(...given), milliseconds);
  };
  later.now = (...given) => {
    clearTimeout(timer);
    return act(...given);
  };
  return later;
}

const unsaved = new Set();

/**
 * Save a field while it is typed into: after a pause, when it is left, and once more when the page is left.
 * `store(text, before)` sends it; `before` is what the page last knew the program to have.
 */
export function saveWhileTyping(field, store, pause = 600) {
  let known = field.value;
  let saving = Promise.resolve();
  const save = () => {
    saving = saving.then(async () => {
      const text = field.value;
      if (text === known) {
        unsaved.delete(field);
        return;
      }
      say("Saving …", "busy");
      try {
        await store(text, known);
        known = text;
        if (field.value === text) unsaved.delete(field);
        field.removeAttribute("aria-invalid");
        if (!unsaved.size) say("Saved", "saved");
      } catch (error) {
        field.setAttribute("aria-invalid", "true");
        say(error.message, "failed");
        field.dispatchEvent(new CustomEvent("notsaved", { bubbles: true, detail: error }));
      }
    });
    return saving;
  };
  const later = afterPause(pause, save);
  field.addEventListener("input", () => {
    unsaved.add(field);
    say("Not saved yet", "busy");
    later();
  });
  field.addEventListener("change", () => later.now());
  return {
    save: () => later.now(),
    /** Take over what the program has. */
    take(text) {
      known = text;
      field.value = text;
      unsaved.delete(field);
      field.removeAttribute("aria-invalid");
    },
    /** Say that the page now knows what the program has, and keep what is typed. */
    know(text) {
      known = text;
    },
  };
}

addEventListener("beforeunload", (event) => {
  if (unsaved.size) event.preventDefault();
});

/** Put a button for each choice, [text, what is shown], behind a field; the chosen text is what the field is offered. */
export function choicesBeside(field, choices, chosen) {
  const box = document.createElement("span");
  box.className = "words";
  for (const [text, shown] of choices) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = shown;
    button.addEventListener("click", () => {
      field.dataset.offer = text;
      chosen();
    });
    box.append(button);
  }
  field.insertAdjacentElement("afterend", box);
  return box;
}
