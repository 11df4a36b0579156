// The page Find: the map of all swatches, and a question that is asked while a slider moves.
import { afterPause, ask, root, say } from "./page.js";
import { questionOf } from "./swap.js";

const form = document.querySelector("#question");
const canvas = document.querySelector("#map");
const results = document.querySelector("#results");
const told = document.querySelector("#told");
const more = document.querySelector("#more");
const style = getComputedStyle(document.documentElement);
const INK = "#000", RULE = style.getPropertyValue("--rule"), HALO = style.getPropertyValue("--halo");
const WARMTH_PER_DE00 = 0.02; // the score's slope along the warm axis (Ou et al. 2004), at low chroma
const VALUE_PER_DE00 = 0.1; // Munsell value per L*

let points = null, found = null, box = null, drawn = null, run = null;

async function load() {
  const data = await (await fetch(`${root}/find/points`)).arrayBuffer();
  const count = new Uint32Array(data, 0, 1)[0];
  points = {
    count,
    value: new Float32Array(data, 4, count),
    warmth: new Float32Array(data, 4 + 4 * count, count),
    uncertainty: new Float32Array(data, 4 + 8 * count, count),
    card: new Uint32Array(data, 4 + 12 * count, count),
    rgb: new Uint8Array(data, 4 + 16 * count, 3 * count),
  };
  let low = -0.4, high = 1;
  for (const x of points.warmth) {
    low = Math.min(low, x);
    high = Math.max(high, x);
  }
  points.low = low - 0.06;
  points.high = high + 0.06;
  for (const name of ["warmth-from", "warmth-to"]) {
    const field = form.elements[name];
    const at = name.endsWith("from") ? field.min : field.max;
    const untouched = field.value === at;
    field.min = Math.floor(points.low * 50) / 50;
    field.max = Math.ceil(points.high * 50) / 50;
    if (untouched) field.value = name.endsWith("from") ? field.min : field.max;
  }
}

// The question.

function question() {
  const asked = questionOf(form);
  for (const [name, end] of [["value-from", "min"], ["value-to", "max"], ["warmth-from", "min"], ["warmth-to", "max"]])
    if (Number(asked.get(name)) === Number(form.elements[name][end])) asked.delete(name);
  if (!asked.get("near")) asked.delete("within");
  for (const button of form.querySelectorAll("[data-way]")) if (button.dataset.way) asked.append(button.dataset.way, button.dataset.tube);
  return asked;
}

let latest = 0;
async function find(first = 0) {
  const mine = ++latest;
  const asked = question();
  history.replaceState(null, "", `${root}/find${asked.size ? `?${asked}` : ""}`);
  document.querySelector("#sheet").href = `${root}/find/sheet?${asked}`;
  if (first) asked.set("first", first);
  let answer;
  try {
    answer = await ask(`/find/answer?${asked}`);
  } catch (error) {
    if (mine === latest) {
      say(error.message, "failed");
      form.elements.near.toggleAttribute("aria-invalid", Boolean(form.elements.near.value));
    }
    return;
  }
  if (mine !== latest) return;
  say("");
  form.elements.near.removeAttribute("aria-invalid");
  found = Uint8Array.from(atob(answer.points), (letter) => letter.charCodeAt(0));
  if (first) results.insertAdjacentHTML("beforeend", answer.html);
  else results.innerHTML = answer.html;
  told.textContent = answer.total ? answer.told : "Nothing answers this. Widen the box or take a condition away.";
  more.hidden = answer.next === null;
  more.dataset.next = answer.next;
  draw();
}

const soon = afterPause(40, () => find());
form.addEventListener("input", () => {
  tellEnds();
  box = null;
  soon();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  find();
});
more.addEventListener("click", () => find(Number(more.dataset.next)));

function tellEnds() {
  for (const output of form.querySelectorAll("output[data-of]")) {
    const field = form.elements[output.dataset.of];
    output.textContent = Number(field.value).toFixed(field.step < 0.1 ? 2 : 1);
  }
}

const WAYS = ["", "with", "without"];
function showWay(button) {
  const { way, tube } = button.dataset;
  button.textContent = way ? `${way} ${tube}` : tube;
  button.setAttribute("aria-pressed", way ? "true" : "false");
}
form.querySelectorAll("[data-way]").forEach((button) => {
  showWay(button);
  button.addEventListener("click", () => {
    button.dataset.way = WAYS[(WAYS.indexOf(button.dataset.way) + 1) % 3];
    showWay(button);
    find();
  });
});

document.querySelector("#clear").addEventListener("click", () => {
  for (const field of form.elements) {
    if (field.type === "range") field.value = field.name.endsWith("from") ? field.min : field.name === "within" ? 6 : field.max;
    else if (field.name) field.value = "";
  }
  for (const button of form.querySelectorAll("[data-way]")) {
    button.dataset.way = "";
    showWay(button);
  }
  tellEnds();
  find();
});

results.addEventListener("click", (event) => {
  const near = event.target.closest("[data-near]")?.dataset.near;
  if (!near) return;
  takeRun(Number(near.split(":")[0]));
  form.elements.near.value = near;
  find();
  form.elements.near.scrollIntoView({ block: "center" });
});

// The map.

const FRAME = { left: 34, top: 12, right: 10, bottom: 40 };
function scale() {
  const { clientWidth: width, clientHeight: height } = canvas;
  const x = (warmth) => FRAME.left + ((warmth - points.low) / (points.high - points.low)) * (width - FRAME.left - FRAME.right);
  const y = (value) => height - FRAME.bottom - (value / 10) * (height - FRAME.top - FRAME.bottom);
  return {
    width, height, x, y,
    warmth: (px) => points.low + ((px - FRAME.left) / (width - FRAME.left - FRAME.right)) * (points.high - points.low),
    value: (py) => ((height - FRAME.bottom - py) / (height - FRAME.top - FRAME.bottom)) * 10,
  };
}

function draw() {
  if (!points) return;
  const sharp = devicePixelRatio || 1;
  const s = scale();
  canvas.width = s.width * sharp;
  canvas.height = s.height * sharp;
  const pen = canvas.getContext("2d");
  pen.scale(sharp, sharp);
  pen.font = `14px ${style.getPropertyValue("--type")}`;
  drawAxes(pen, s);
  drawn = s;
  const side = points.count > 20000 ? 3 : points.count > 3000 ? 5 : points.count > 400 ? 9 : 14;
  pen.fillStyle = RULE;
  for (let i = 0; i < points.count; i++)
    if (!isFound(i)) pen.fillRect(s.x(points.warmth[i]) - 1, s.y(points.value[i]) - 1, 2, 2);
  drawHalos(pen, s, side / 2 + 2);
  for (let i = 0; i < points.count; i++) {
    if (!isFound(i)) continue;
    pen.fillStyle = `rgb(${points.rgb[3 * i]} ${points.rgb[3 * i + 1]} ${points.rgb[3 * i + 2]})`;
    pen.fillRect(s.x(points.warmth[i]) - side / 2, s.y(points.value[i]) - side / 2, side, side);
  }
  if (run) drawRun(pen, s);
  const edges = box ?? asBox(s);
  if (edges) {
    pen.strokeStyle = INK;
    pen.lineWidth = 2;
    pen.setLineDash([6, 4]);
    pen.strokeRect(edges.x, edges.y, edges.width, edges.height);
    pen.setLineDash([]);
  }
  canvas.setAttribute("aria-label", `Value and warmth of ${points.count} swatches. ${told.textContent}.`);
}

const isFound = (i) => !found || (found[i >> 3] >> (i & 7)) & 1;

function drawAxes(pen, s) {
  pen.lineWidth = 1;
  pen.textBaseline = "middle";
  for (let value = 0; value <= 10; value++) {
    pen.strokeStyle = "rgb(0 0 0 / 18%)";
    pen.beginPath();
    pen.moveTo(FRAME.left, s.y(value));
    pen.lineTo(s.width - FRAME.right, s.y(value));
    pen.stroke();
    pen.fillStyle = INK;
    pen.textAlign = "right";
    pen.fillText(value, FRAME.left - 8, s.y(value));
  }
  pen.strokeStyle = INK;
  pen.beginPath();
  pen.moveTo(s.x(0), s.y(10));
  pen.lineTo(s.x(0), s.y(0) + 6);
  pen.stroke();
  pen.textAlign = "center";
  pen.fillText("grey", s.x(0), s.height - FRAME.bottom + 16);
  pen.textAlign = "left";
  pen.fillText("← cooler", FRAME.left, s.height - 10);
  pen.textAlign = "right";
  pen.fillText("warmer →", s.width - FRAME.right, s.height - 10);
}

/** Draw how far each chip may be off; where there are too many for halos, the program states no uncertainties. */
function drawHalos(pen, s, rim) {
  if (!points.uncertainty.some((u) => u > 0)) return;
  pen.fillStyle = HALO;
  for (let i = 0; i < points.count; i++) {
    if (!isFound(i)) continue;
    const u = points.uncertainty[i];
    const across = Math.abs(s.x(u * WARMTH_PER_DE00) - s.x(0)) + rim, up = Math.abs(s.y(u * VALUE_PER_DE00) - s.y(0)) + rim;
    pen.beginPath();
    pen.ellipse(s.x(points.warmth[i]), s.y(points.value[i]), across, up, 0, 0, 7);
    pen.fill();
  }
}

function drawRun(pen, s) {
  const mine = [];
  for (let i = 0; i < points.count; i++) if (points.card[i] === run) mine.push(i);
  mine.sort((a, b) => points.value[a] - points.value[b]);
  pen.strokeStyle = INK;
  pen.lineWidth = 1.5;
  pen.beginPath();
  mine.forEach((i, k) => pen[k ? "lineTo" : "moveTo"](s.x(points.warmth[i]), s.y(points.value[i])));
  pen.stroke();
  for (const i of mine) {
    pen.fillStyle = `rgb(${points.rgb[3 * i]} ${points.rgb[3 * i + 1]} ${points.rgb[3 * i + 2]})`;
    pen.fillRect(s.x(points.warmth[i]) - 8, s.y(points.value[i]) - 8, 16, 16);
    pen.strokeRect(s.x(points.warmth[i]) - 8, s.y(points.value[i]) - 8, 16, 16);
  }
}

function asBox(s) {
  const { "value-from": v1, "value-to": v2, "warmth-from": w1, "warmth-to": w2 } = form.elements;
  const whole = v1.value === v1.min && v2.value === v2.max && Number(w1.value) <= points.low && Number(w2.value) >= points.high;
  if (whole) return null;
  const x = s.x(Math.max(Number(w1.value), points.low)), y = s.y(Number(v2.value));
  return { x, y, width: s.x(Math.min(Number(w2.value), points.high)) - x, height: s.y(Number(v1.value)) - y };
}

// Drawing the box, with mouse, pen or thumb.

const boxing = document.querySelector("#boxing");
boxing.addEventListener("click", () => {
  const on = boxing.getAttribute("aria-pressed") !== "true";
  boxing.setAttribute("aria-pressed", on);
  canvas.classList.toggle("boxing", on); // else a thumb on the map scrolls the page
});

let start = null;
const place = (event) => {
  const at = canvas.getBoundingClientRect();
  return { x: event.clientX - at.left, y: event.clientY - at.top };
};
canvas.addEventListener("pointerdown", (event) => {
  if (!points || (event.pointerType === "touch" && !canvas.classList.contains("boxing"))) return;
  start = place(event);
  canvas.setPointerCapture(event.pointerId);
});
canvas.addEventListener("pointermove", (event) => {
  const now = place(event);
  if (!start) return showRun(now);
  if (Math.hypot(now.x - start.x, now.y - start.y) < 6) return;
  box = { x: Math.min(start.x, now.x), y: Math.min(start.y, now.y), width: Math.abs(now.x - start.x), height: Math.abs(now.y - start.y) };
  takeBox();
});
canvas.addEventListener("pointerup", (event) => {
  if (!box) showRun(place(event));
  start = null;
  box = null;
});
canvas.addEventListener("pointercancel", () => {
  start = null;
  box = null;
  draw();
});

function takeBox() {
  const set = (name, number) => {
    const field = form.elements[name];
    field.value = Math.min(Math.max(number, field.min), field.max);
  };
  set("value-from", drawn.value(box.y + box.height));
  set("value-to", drawn.value(box.y));
  set("warmth-from", drawn.warmth(box.x));
  set("warmth-to", drawn.warmth(box.x + box.width));
  tellEnds();
  draw();
  soon();
}

function showRun(at) {
  let nearest = -1, best = 20 * 20;
  for (let i = 0; i < points.count; i++) {
    if (!isFound(i)) continue;
    const far = (drawn.x(points.warmth[i]) - at.x) ** 2 + (drawn.y(points.value[i]) - at.y) ** 2;
    if (far < best) [nearest, best] = [i, far];
  }
  takeRun(nearest < 0 ? null : points.card[nearest]);
}

/** Draw the run of a card, and name the card below the map. */
function takeRun(card) {
  if (card === run) return;
  run = card;
  const line = document.querySelector("#run");
  if (card === null) line.textContent = "Point at a chip to see its card’s run.";
  else {
    const link = Object.assign(document.createElement("a"), { href: `${root}/cards/${card}`, textContent: `card ${card}` });
    line.replaceChildren("The run of ", link, ", from dark to light.");
  }
  draw();
}

results.addEventListener("focusin", (event) => {
  takeRun(Number(event.target.closest("[data-card]")?.dataset.card) || null);
});

addEventListener("resize", draw);
tellEnds();
load().then(() => find());
document.fonts?.ready.then(draw);
