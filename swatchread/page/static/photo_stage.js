// The photo with what was found drawn over it: it is looked at closely, and pointed at.

const SVG = "http://www.w3.org/2000/svg";
const THUMB = 22; // half of a target for a thumb, in pixels of the screen
const MOST_ZOOM = 24;

export function drawing(name, attributes = {}, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  return made;
}

const points = (places) => places.map((place) => place.join(",")).join(" ");
const between = (one, other, share) => [0, 1].map((k) => one[k] + (other[k] - one[k]) * share);

/** A photo that can be zoomed, moved and pointed at. */
export class PhotoStage {
  /**
   * @param host element with `data-drawn` (what to draw, photo pixels) and `data-photo`
   * @param acts functions: corners(kind, places), lines(rows, columns), point(tool, place, id), pick(id)
   */
  constructor(host, acts) {
    this.host = host;
    this.acts = acts;
    this.tool = "look";
    this.svg = drawing("svg", { class: "photo-drawing", preserveAspectRatio: "xMidYMid meet" });
    this.image = drawing("image");
    this.layer = drawing("g");
    this.svg.append(this.image, this.layer);
    host.replaceChildren(this.svg);
    this.touches = new Map();
    this.take(JSON.parse(host.dataset.drawn), host.dataset.photo);
    this.showAll();
    this.listen();
    new ResizeObserver(() => this.look(this.view)).observe(host);
  }

  /** Draw other facts, and perhaps another picture; what is looked at stays. */
  take(drawn, address) {
    this.drawn = structuredClone(drawn);
    const { width, height } = drawn;
    for (const [key, value] of Object.entries({ width, height, x: -0.5, y: -0.5 })) this.image.setAttribute(key, value);
    this.picture(address);
    this.draw();
  }

  picture(address) {
    if (this.image.getAttribute("href") !== address) this.image.setAttribute("href", address);
  }

  use(tool) {
    this.tool = tool;
    this.host.dataset.tool = tool;
    this.draw();
  }

  // --- looking

  showAll() {
    const { width, height } = this.drawn;
    this.look({ x: -0.5, y: -0.5, width, height });
  }

  look(view) {
    this.view = view;
    this.svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.width} ${view.height}`);
    const before = this.scale;
    const box = this.svg.getBoundingClientRect();
    this.scale = box.width ? Math.max(view.width / box.width, view.height / box.height) : 1;
    if (before !== this.scale) this.draw();
  }

  zoom(factor, at) {
    const { width } = this.drawn;
    const wanted = Math.min(Math.max(this.view.width / factor, width / MOST_ZOOM), width * 1.2);
    const change = wanted / this.view.width;
    const [x, y] = at ?? [this.view.x + this.view.width / 2, this.view.y + this.view.height / 2];
    this.look({
      x: x - (x - this.view.x) * change,
      y: y - (y - this.view.y) * change,
      width: this.view.width * change,
      height: this.view.height * change,
    });
  }

  move(dx, dy) {
    this.look({ ...this.view, x: this.view.x + dx, y: this.view.y + dy });
  }

  place(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [at.x, at.y];
  }

  /** Return the nearest place that lies in the photo. */
  within([x, y]) {
    const { width, height } = this.drawn;
    return [Math.min(Math.max(x, 0), width - 1), Math.min(Math.max(y, 0), height - 1)];
  }

  // --- drawing

  draw() {
    const scale = this.scale ?? 1;
    const { drawn, tool } = this;
    const made = [];
    made.push(...this.outline(drawn.card, "card"), ...this.outline(drawn.chart, "chart"));
    for (const swatch of drawn.swatches) {
      const xs = swatch.outline.map((place) => place[0]);
      const size = Math.max(Math.min(Math.max(...xs) - Math.min(...xs), 6 * THUMB * scale) * 0.34, 8 * scale);
      const group = drawing("g", { class: "found", "data-outline": swatch.id });
      group.append(
        drawing("polygon", { points: points(swatch.outline), class: "under" }),
        drawing("polygon", { points: points(swatch.outline), class: "over" }),
        drawing("text", { x: swatch.middle[0], y: swatch.middle[1], "font-size": size, dy: "0.35em" }, swatch.id),
      );
      made.push(group);
    }
    if (tool === "lines") {
      for (const kind of ["rows", "columns"]) drawn[kind].forEach((line, k) => made.push(this.lineHandle(kind, k, line)));
    }
    if (tool === "corners") {
      for (const kind of ["card", "chart"]) drawn[kind].forEach((_, k) => made.push(this.cornerHandle(kind, k)));
    }
    for (const [kind, sign] of [["added", "+"], ["removed", "×"]]) {
      if (tool !== "look") for (const [x, y] of drawn.hints[kind])
        made.push(drawing("text", { x, y, class: "pointed", "font-size": 20 * scale, dy: "0.35em" }, sign));
    }
    const focused = this.layer.querySelector(":focus")?.getAttribute("data-handle");
    this.layer.replaceChildren(...made);
    if (focused) this.layer.querySelector(`[data-handle="${focused}"]`)?.focus();
  }

  outline(places, kind) {
    return ["under", "over"].map((layer) => drawing("polygon", { points: points(places), class: `${layer} ${kind}` }));
  }

  cornerHandle(kind, index) {
    const [x, y] = this.drawn[kind][index];
    const name = `${kind}-${index}`;
    const handle = drawing("g", {
      "data-corner": name, "data-handle": name, tabindex: 0, role: "button", class: "handle",
      "aria-label": `Corner ${index + 1} of the ${kind}; arrow keys move it`,
    });
    const scale = this.scale ?? 1;
    handle.append(
      drawing("circle", { cx: x, cy: y, r: THUMB * scale, class: "reach" }),
      drawing("circle", { cx: x, cy: y, r: 9 * scale, class: "under" }),
      drawing("circle", { cx: x, cy: y, r: 9 * scale, class: "over" }),
    );
    this.movable(handle, (dx, dy) => {
      this.drawn[kind][index] = this.within([this.drawn[kind][index][0] + dx, this.drawn[kind][index][1] + dy]);
    }, () => this.acts.corners(kind, this.drawn[kind]));
    return handle;
  }

  lineHandle(kind, index, line) {
    const name = `${kind}-${index}`;
    const word = kind === "rows" ? "row" : "column";
    const handle = drawing("g", {
      "data-line": name, "data-handle": name, tabindex: 0, role: "button", class: "handle line",
      "aria-label": `Line after ${word} ${index + 1}; arrow keys move it`,
    });
    const [[x1, y1], [x2, y2]] = line;
    for (const layer of ["reach", "under", "over"]) handle.append(drawing("line", { x1, y1, x2, y2, class: layer }));
    // In its middle third the whole line is moved, nearer to an end only that end: so it can be made to slant.
    const ends = (from) => {
      const third = (a, b) => Math.hypot(from[0] - a[0], from[1] - a[1]) < Math.hypot(b[0] - a[0], b[1] - a[1]) / 4;
      const [one, other] = this.drawn[kind][index];
      return third(one, other) ? [0] : third(other, one) ? [1] : [0, 1];
    };
    this.movable(handle, (dx, dy, from) => {
      for (const end of from ? ends(from) : [0, 1]) {
        const [x, y] = this.drawn[kind][index][end];
        this.drawn[kind][index][end] = [x + dx, y + dy];
      }
    }, () => this.acts.lines(this.drawn.rows, this.drawn.columns));
    return handle;
  }

  /** Let a handle be dragged, and moved by arrow keys; `done` is called when it rests. */
  movable(handle, shift, done) {
    handle.addEventListener("pointerdown", (event) => {
      if (event.button) return;
      event.stopPropagation();
      event.preventDefault();
      const from = this.place(event);
      let last = from, moved = false;
      const go = (moving) => {
        const now = this.place(moving);
        if (!moved && Math.hypot(now[0] - from[0], now[1] - from[1]) < 3 * this.scale) return;
        moved = true;
        shift(now[0] - last[0], now[1] - last[1], from);
        last = now;
        this.draw();
      };
      const end = () => {
        removeEventListener("pointermove", go);
        removeEventListener("pointerup", end);
        removeEventListener("pointercancel", end);
        if (moved) done();
      };
      addEventListener("pointermove", go);
      addEventListener("pointerup", end);
      addEventListener("pointercancel", end);
    });
    handle.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!way) return;
      event.preventDefault();
      event.stopPropagation();
      const step = (event.shiftKey ? 10 : 2) * this.scale;
      shift(way[0] * step, way[1] * step);
      this.draw();
      clearTimeout(this.resting);
      this.resting = setTimeout(done, 900);
    });
  }

  // --- pointing

  listen() {
    this.host.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(Math.exp(-event.deltaY / 400), this.place(event));
    }, { passive: false });
    this.host.addEventListener("pointerdown", (event) => this.touch(event));
    this.host.addEventListener("keydown", (event) => {
      if (event.target !== this.host) return;
      const step = this.view.width / 10;
      const keys = {
        "+": () => this.zoom(1.4), "-": () => this.zoom(1 / 1.4), 0: () => this.showAll(),
        ArrowLeft: () => this.move(-step, 0), ArrowRight: () => this.move(step, 0),
        ArrowUp: () => this.move(0, -step), ArrowDown: () => this.move(0, step),
      };
      if (keys[event.key]) {
        event.preventDefault();
        keys[event.key]();
      }
    });
  }

  /** One finger or the mouse moves the photo, two fingers zoom, a tap points. */
  touch(event) {
    if (event.button) return;
    this.host.setPointerCapture(event.pointerId);
    const start = { x: event.clientX, y: event.clientY };
    this.touches.set(event.pointerId, start);
    let moved = this.touches.size > 1;
    const go = (moving) => {
      const last = this.touches.get(moving.pointerId);
      if (!last) return;
      const now = { x: moving.clientX, y: moving.clientY };
      if (this.touches.size === 2) this.pinch(moving.pointerId, last, now);
      else if (moved || Math.hypot(now.x - start.x, now.y - start.y) > 6) this.move((last.x - now.x) * this.scale, (last.y - now.y) * this.scale);
      if (Math.hypot(now.x - start.x, now.y - start.y) > 6) moved = true;
      if (moved) this.touches.set(moving.pointerId, now);
    };
    const end = (ending) => {
      if (ending.pointerId !== event.pointerId) return;
      this.touches.delete(event.pointerId);
      for (const [name, act] of [["pointermove", go], ["pointerup", end], ["pointercancel", end]]) this.host.removeEventListener(name, act);
      if (!moved && ending.type === "pointerup") this.tap(ending);
    };
    for (const [name, act] of [["pointermove", go], ["pointerup", end], ["pointercancel", end]]) this.host.addEventListener(name, act);
  }

  pinch(id, last, now) {
    const other = [...this.touches].find(([key]) => key !== id)[1];
    const apart = (one) => Math.max(1, Math.hypot(one.x - other.x, one.y - other.y));
    const middle = between([now.x, now.y], [other.x, other.y], 0.5);
    this.touches.set(id, now);
    this.zoom(apart(now) / apart(last), this.place({ clientX: middle[0], clientY: middle[1] }));
  }

  tap(event) {
    const place = this.place(event);
    const id = document.elementFromPoint(event.clientX, event.clientY)?.closest("[data-outline]")?.dataset.outline;
    if (this.tool === "add" || this.tool === "remove") this.acts.point(this.tool, place, id);
    else if (id) this.acts.pick(id);
  }

  /** Show which swatch is at hand. */
  mark(id) {
    for (const one of this.layer.querySelectorAll("[data-outline]")) one.classList.toggle("at-hand", one.dataset.outline === id);
  }
}
