// Parts of a page are drawn anew by the program and put in place of the old ones.
import { root, say } from "./page.js";

let asked = 0;

/**
 * Fetch a page and put some of its parts in the place of those on this page.
 * A failure is shown in the first part. An answer that comes after a later question is dropped.
 */
export async function swap(path, ...parts) {
  const mine = ++asked;
  let text;
  try {
    text = await (await fetch(root + path, { headers: { accept: "text/html" } })).text();
  } catch {
    say("The program does not answer. Start it again with “swatchread open”.", "failed");
    return false;
  }
  if (mine !== asked) return false;
  const drawn = new DOMParser().parseFromString(text, "text/html");
  const failure = drawn.querySelector(".failure");
  if (failure && !drawn.querySelector(parts[0])) {
    document.querySelector(parts[0]).replaceChildren(document.adoptNode(failure));
    say("Not answered: see the page", "failed");
    return false;
  }
  for (const part of parts) {
    const old = document.querySelector(part), fresh = drawn.querySelector(part);
    // A part with the painter's focus in it stays as it is, unless it differs.
    if (!old.isEqualNode(fresh) && !(old.contains(document.activeElement) && part !== parts[0])) old.replaceWith(document.adoptNode(fresh));
  }
  document.dispatchEvent(new CustomEvent("swapped"));
  return true;
}

/** The fields of a form as the end of an address, without those left empty. */
export function questionOf(form) {
  const given = new URLSearchParams();
  for (const [name, text] of new FormData(form)) if (text) given.append(name, text);
  return given;
}
