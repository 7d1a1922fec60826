/* Drawing the wheel: unrolled as a strip one can zoom and pan, and seen along its axle. */
const Marks = (() => {
  const ORDER = ["exact", "unheard", "slight", "audible", "out", "shared"];
  const WORDS = { exact: "exact", unheard: "moved, unheard", slight: "moved, slight", audible: "moved, audible",
    out: "left out", shared: "shares a pin" };
  /** Trace the mark of an outcome about a point; each has a shape of its own, so that no one needs its tone. */
  function trace(path, outcome, x, y, r) {
    switch (outcome) {
      case "exact": path.moveTo(x + r, y); path.arc(x, y, r, 0, 2 * Math.PI); break;
      case "unheard": path.moveTo(x, y - r * 1.2); path.lineTo(x + r * 1.2, y); path.lineTo(x, y + r * 1.2); path.lineTo(x - r * 1.2, y); path.closePath(); break;
      case "slight": path.rect(x - r * 0.95, y - r * 0.95, r * 1.9, r * 1.9); break;
      case "audible": path.moveTo(x, y - r * 1.3); path.lineTo(x + r * 1.2, y + r); path.lineTo(x - r * 1.2, y + r); path.closePath(); break;
      case "out": for (const s of [1, -1]) { path.moveTo(x - r, y - r * s); path.lineTo(x + r, y + r * s); } break;
      default: path.moveTo(x + r, y); path.arc(x, y, r, 0, 2 * Math.PI); path.moveTo(x - r, y); path.lineTo(x + r, y);
    }
  }
  /** The same as the text of an SVG path. */
  function outline(outcome, x, y, r) {
    const words = [], round = (value) => Math.round(value * 100) / 100;
    trace({
      moveTo: (a, b) => words.push(`M${round(a)} ${round(b)}`),
      lineTo: (a, b) => words.push(`L${round(a)} ${round(b)}`),
      rect: (a, b, wide, high) => words.push(`M${round(a)} ${round(b)}h${round(wide)}v${round(high)}h${round(-wide)}Z`),
      arc: (a, b, q) => words.push(`A${round(q)} ${round(q)} 0 1 1 ${round(a - q)} ${round(b)}A${round(q)} ${round(q)} 0 1 1 ${round(a + q)} ${round(b)}`),
      closePath: () => words.push("Z"),
    }, outcome, x, y, r);
    return words.join("");
  }
  const stroked = (outcome) => outcome === "out" || outcome === "shared" || outcome === "doubtful";
  /** The mark as a small SVG element, for legends and lists. */
  function icon(outcome) {
    const shapes = { exact: "M13 8A5 5 0 1 1 3 8A5 5 0 1 1 13 8Z", unheard: "M8 2L14 8L8 14L2 8Z", slight: "M3 3H13V13H3Z",
      audible: "M8 2L14 13H2Z", out: "M3 3L13 13M3 13L13 3", shared: "M13 8A5 5 0 1 1 3 8A5 5 0 1 1 13 8ZM3 8H13",
      doubtful: "M2.5 2.5H13.5V13.5H2.5Z" };
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", "0 0 16 16");
    svg.setAttribute("aria-hidden", "true");
    const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("d", shapes[outcome]);
    path.setAttribute("fill", stroked(outcome) ? "none" : `var(--${outcome})`);
    path.setAttribute("stroke", `var(--${outcome})`);
    path.setAttribute("stroke-width", "2");
    if (outcome === "doubtful") path.setAttribute("stroke-dasharray", "2.5 1.9");
    svg.append(path);
    return svg;
  }
  return { ORDER, WORDS, trace, outline, stroked, icon };
})();

/* The lane of a channel: a line of its own for each row of holes. */
class Lanes {
  /** Within lowest and highest, but as high as the lines of its rows need, each a number of pixels high. */
  constructor(wheel, room, lowest = 13, highest = 24, line = 4.5) {
    const rows = wheel.rows.length;
    this.wheel = wheel;
    this.high = Math.max(lowest, rows > 1 ? line * rows + 3 : 0, Math.min(highest, room / wheel.channels.length));
    this.apart = rows > 1 ? (this.high - 6) / rows : 0;
    this.mark = rows > 1 ? 0.62 * this.apart + 1 : 0.36 * this.high; // largest radius of a mark
  }

  /** How far below the middle of the lane the line of a row is; 0 for a note without a hole. */
  below(row) { return row < 0 ? 0 : (this.wheel.lines_of_rows[row] - (this.wheel.rows.length - 1) / 2) * this.apart; }
  middle(channel) { return this.high * (channel + 0.5); }
}

/* Steps that are numbered: the 1st and every 2nd, 4th, 8th ... after it on each plate, so that numbers have room. */
function numberedSteps(wheel, pitch, room) {
  let every = 1;
  while (every * pitch < room) every *= 2;
  const steps = [];
  for (let step = 0; step < wheel.steps_per_plate; step += every) {
    if (!step || (wheel.steps_per_plate - step) * pitch >= room / 2) steps.push(step);
  }
  return steps;
}

const tones = () => {
  const style = getComputedStyle(document.documentElement);
  return (name) => style.getPropertyValue(`--${name}`).trim();
};

class Strip {
  static LABELS = 104; // px for the names of channels
  static HEAD = 38;
  static LINES = { plate: 10, bar: 22, step: 34 }; // baselines of the axis

  constructor(data, canvas, box, spacer) {
    Object.assign(this, { data, canvas, box, spacer, shown: new Set([...Marks.ORDER, "doubtful"]), selected: -1 });
    this.steps = data.wheel.plates * data.wheel.steps_per_plate;
    this.lanes = new Lanes(data.wheel, 460);
    this.lane = this.lanes.high;
    this.height = Strip.HEAD + this.lane * data.wheel.channels.length + 6;
    this.byChannel = data.wheel.channels.map(() => []);
    data.notes.channel.forEach((channel, note) => { if (channel >= 0 && data.notes.at[note] !== null) this.byChannel[channel].push(note); });
    this.placed = this.byChannel.flat();
    this.zoom = 0;
    box.addEventListener("scroll", () => this.redraw());
    new ResizeObserver(() => { this.setZoom(this.zoom); }).observe(box);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.redraw());
  }

  get whole() { return Math.max(1.5, (this.box.clientWidth - Strip.LABELS - 8) / this.steps); }

  /** Pixels a step; 0 shows the whole turn. */
  setZoom(pixels, aroundStep = null) {
    const middle = aroundStep ?? this.stepAt(Strip.LABELS + (this.box.clientWidth - Strip.LABELS) / 2);
    this.zoom = pixels <= this.whole ? 0 : Math.min(pixels, 90);
    this.pitch = this.zoom || this.whole;
    this.spacer.style.width = `${Strip.LABELS + this.pitch * this.steps + 8}px`;
    this.box.scrollLeft = middle * this.pitch - (this.box.clientWidth - Strip.LABELS) / 2;
    this.redraw();
  }

  stepAt(x) { return this.pitch ? (this.box.scrollLeft + x - Strip.LABELS - 4) / this.pitch : 0; }
  xOf(step) { return Strip.LABELS + 4 + step * this.pitch - this.box.scrollLeft; }
  yOf(channel, row = -1) { return Strip.HEAD + this.lanes.middle(channel) + this.lanes.below(row); }
  yOfNote(note) { return this.yOf(this.data.notes.channel[note], this.data.notes.row[note]); }

  /** Whether a note has a place on the drawing: a channel, and a time within the turn. */
  onWheel(note) { return this.data.notes.channel[note] >= 0 && this.data.notes.at[note] !== null; }

  /** Bring a step into view. */
  reveal(step) {
    const x = this.xOf(step);
    if (x < Strip.LABELS + 20 || x > this.box.clientWidth - 30) {
      this.box.scrollLeft = step * this.pitch - (this.box.clientWidth - Strip.LABELS) / 3;
    }
  }

  redraw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.draw(); });
  }

  draw() {
    const { canvas } = this;
    const width = this.box.clientWidth, ratio = devicePixelRatio || 1;
    if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(this.height * ratio)) {
      canvas.width = Math.round(width * ratio);
      canvas.height = Math.round(this.height * ratio);
      canvas.style.width = `${width}px`;
      canvas.style.height = `${this.height}px`;
    }
    const pen = canvas.getContext("2d");
    const tone = tones();
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = tone("card");
    pen.fillRect(0, 0, width, this.height);
    this.drawLanes(pen, tone, width);
    this.drawHoles(pen, tone, width);
    this.drawLines(pen, tone, width);
    this.drawHeld(pen, tone);
    this.drawNotes(pen, tone, width);
    this.drawLabels(pen, tone);
  }

  drawLanes(pen, tone, width) {
    pen.fillStyle = tone("lane");
    for (let channel = 0; channel < this.byChannel.length; channel += 2) {
      pen.fillRect(0, Strip.HEAD + this.lane * channel, width, this.lane);
    }
  }

  /** Holes, drawn once for each kind of channel and copied to its channels: drawing each would make scrolling stutter. */
  drawHoles(pen, tone, width) {
    if (this.pitch < 7) return;
    this.lines ??= this.data.wheel.lines.map((line) => ({ ...line, gone: new Set(line.lost) }));
    const first = this.stepAt(Strip.LABELS - 4), last = this.stepAt(width + 4), r = Math.min(2, this.pitch / 10);
    const ratio = devicePixelRatio || 1, tall = this.lane;
    const rows = this.lines.map((line) => {
      const row = document.createElement("canvas");
      row.width = Math.ceil(width * ratio);
      row.height = Math.ceil(tall * ratio);
      const small = row.getContext("2d"), holes = new Path2D(), lost = new Path2D();
      small.scale(ratio, ratio);
      line.at.forEach((at, hole) => {
        if (at < first || at > last) return;
        const x = this.xOf(at), y = tall / 2 + this.lanes.below(line.row[hole]);
        if (line.gone.has(hole)) Marks.trace(lost, "out", x, y, r * 1.4);
        else { holes.moveTo(x + r, y); holes.arc(x, y, r, 0, 2 * Math.PI); }
      });
      small.strokeStyle = tone("hole");
      small.stroke(holes);
      small.stroke(lost);
      return row;
    });
    this.data.wheel.channels.forEach((channel, number) => {
      pen.drawImage(rows[channel.line], 0, this.yOf(number) - tall / 2, width, tall);
    });
  }

  drawLines(pen, tone, width) {
    const { wheel, bars } = this.data, bottom = this.height - 6;
    pen.lineWidth = 1;
    pen.strokeStyle = tone("line");
    pen.beginPath();
    for (const bar of bars) { const x = Math.round(this.xOf(bar.at)) + 0.5; pen.moveTo(x, 12); pen.lineTo(x, bottom); }
    pen.stroke();
    pen.fillStyle = tone("soft");
    pen.font = "11px system-ui, sans-serif";
    let free = -Infinity;
    for (const bar of [...bars].sort((a, b) => a.at - b.at)) {
      const x = this.xOf(bar.at), words = bar.label;
      if (x < Strip.LABELS || x > width || x < free) continue;
      pen.fillText(words, x + 3, Strip.LINES.bar);
      free = x + pen.measureText(words).width + 10;
    }
    pen.strokeStyle = tone("seam");
    pen.lineWidth = 2;
    pen.setLineDash([5, 3]);
    pen.beginPath();
    for (let plate = 0; plate <= wheel.plates; plate++) {
      const x = this.xOf(plate * wheel.steps_per_plate) - Math.min(3, this.pitch * 0.3);
      pen.moveTo(x, 0);
      pen.lineTo(x, bottom);
    }
    pen.stroke();
    pen.setLineDash([]);
    pen.fillStyle = tone("ink");
    pen.font = "600 11px system-ui, sans-serif";
    for (let plate = 0; plate < wheel.plates; plate++) {
      pen.fillText(`plate ${plate + 1}`, this.xOf(plate * wheel.steps_per_plate) + 3, Strip.LINES.plate);
    }
    pen.fillStyle = pen.strokeStyle = tone("soft");
    pen.font = "10px system-ui, sans-serif";
    pen.lineWidth = 1;
    pen.beginPath();
    const steps = numberedSteps(wheel, this.pitch, 22);
    for (let plate = 0; plate < wheel.plates; plate++) {
      for (const step of steps) {
        const x = this.xOf(plate * wheel.steps_per_plate + step);
        if (x < Strip.LABELS || x > width) continue;
        pen.fillText(step + 1, x + 3, Strip.LINES.step);
        pen.moveTo(Math.round(x) + 0.5, Strip.LINES.step - 4);
        pen.lineTo(Math.round(x) + 0.5, Strip.HEAD);
      }
    }
    pen.stroke();
  }

  /** A line from each held note to its end, and a ring for every further pin that holds it. */
  drawHeld(pen, tone) {
    const { notes, held } = this.data, r = Math.max(1.8, Math.min(4, this.pitch * 0.28)), path = new Path2D();
    notes.lasts_s.forEach((lasts, note) => {
      if (!lasts || !this.onWheel(note) || !this.shown.has(notes.outcome[note])) return;
      const y = this.yOfNote(note), from = notes.at[note], to = from + (lasts / this.data.turn_s) * this.steps;
      for (const turn of to > this.steps ? [0, this.steps] : [0]) {
        path.moveTo(this.xOf(Math.max(0, from - turn)), y);
        path.lineTo(this.xOf(Math.min(this.steps, to - turn)), y);
      }
    });
    held.note.forEach((note, pin) => {
      if (!this.onWheel(note) || !this.shown.has(notes.outcome[note])) return;
      const x = this.xOf(held.at[pin]), y = this.yOf(notes.channel[note], held.row[pin]);
      path.moveTo(x + r, y);
      path.arc(x, y, r, 0, 2 * Math.PI);
    });
    pen.strokeStyle = tone("exact");
    pen.lineWidth = 1.6;
    pen.stroke(path);
  }

  drawNotes(pen, tone, width) {
    const { outcome, at } = this.data.notes, r = Math.max(2.6, Math.min(6, this.pitch * 0.42, this.lanes.mark));
    const paths = Object.fromEntries(Marks.ORDER.map((name) => [name, new Path2D()]));
    const doubts = new Path2D();
    for (const note of this.placed) {
      const x = this.xOf(at[note]), y = this.yOfNote(note);
      if (x < Strip.LABELS - r || x > width + r) continue;
      if (this.shown.has(outcome[note])) Marks.trace(paths[outcome[note]], outcome[note], x, y, r);
      if (this.data.doubtful[note] !== undefined && this.shown.has("doubtful")) doubts.rect(x - r - 2.5, y - r - 2.5, 2 * r + 5, 2 * r + 5);
    }
    for (const name of Marks.ORDER) {
      pen.fillStyle = pen.strokeStyle = tone(name);
      pen.lineWidth = 2;
      if (Marks.stroked(name)) pen.stroke(paths[name]); else pen.fill(paths[name]);
    }
    pen.strokeStyle = tone("doubtful");
    pen.lineWidth = 1.2;
    pen.setLineDash([2, 2]);
    pen.stroke(doubts);
    pen.setLineDash([]);
    if (this.selected >= 0 && this.onWheel(this.selected)) {
      pen.strokeStyle = tone("focus");
      pen.lineWidth = 3;
      pen.beginPath();
      pen.arc(this.xOf(at[this.selected]), this.yOfNote(this.selected), r + 5, 0, 2 * Math.PI);
      pen.stroke();
    }
  }

  drawLabels(pen, tone) {
    pen.fillStyle = tone("card");
    pen.fillRect(0, 0, Strip.LABELS, this.height);
    pen.fillStyle = tone("soft");
    pen.font = "11px system-ui, sans-serif";
    for (const name of ["bar", "step"]) pen.fillText(name, 4, Strip.LINES[name]);
    pen.fillStyle = tone("ink");
    pen.font = `${Math.min(12, this.lane - 2)}px system-ui, sans-serif`;
    pen.textBaseline = "middle";
    this.data.wheel.channels.forEach((channel, number) => pen.fillText(channel.name, 4, this.yOf(number), Strip.LABELS - 8));
    pen.textBaseline = "alphabetic";
  }

  /** The note nearest to a point of the canvas, or -1. */
  noteAt(x, y) {
    const channel = Math.floor((y - Strip.HEAD) / this.lane);
    if (x < Strip.LABELS || !this.byChannel[channel]) return -1;
    const { at, outcome } = this.data.notes;
    let best = -1, least = 14;
    for (const note of this.byChannel[channel]) {
      const away = Math.hypot(this.xOf(at[note]) - x, (this.yOfNote(note) - y) / 2);
      if (away < least && this.shown.has(outcome[note])) { least = away; best = note; }
    }
    return best;
  }
}

/* Load round the turn: for each strike its place and how many strikes a window that begins with it holds, its end left out. */
function loadRound(data) {
  const { pin_s, outcome, at } = data.notes, turn = data.turn_s, window = data.load_window_s;
  const strikes = pin_s.map((s, note) => ({ s: s === null ? null : ((s % turn) + turn) % turn, at: at[note], note }))
    .filter(({ s, at, note }) => s !== null && at !== null && outcome[note] !== "shared" && outcome[note] !== "out")
    .sort((a, b) => a.s - b.s);
  return strikes.map(({ s, at }, first) => {
    let count = 0;
    while (count < strikes.length) {
      const next = strikes[(first + count) % strikes.length].s - s + (first + count >= strikes.length ? turn : 0);
      if (next >= window - 1e-6) break;
      count++;
    }
    for (let before = first - 1; before >= 0 && strikes[before].s > s - 1e-6; before--) count++; // at the same moment
    return { at, count };
  });
}

class Face {
  static LOAD = 18; // px round the wheel for the load

  constructor(data, canvas) {
    Object.assign(this, { data, canvas, steps: data.wheel.plates * data.wheel.steps_per_plate, load: loadRound(data) });
    this.most = Math.max(1, ...this.load.map(({ count }) => count));
    new ResizeObserver(() => this.draw()).observe(canvas);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }

  draw() {
    const { canvas, data, steps } = this, size = canvas.clientWidth, ratio = devicePixelRatio || 1;
    if (!size) return;
    canvas.width = canvas.height = Math.round(size * ratio);
    const pen = canvas.getContext("2d"), tone = tones(), middle = size / 2;
    const outer = middle - 3 - Face.LOAD, inner = outer * 0.42, count = data.wheel.channels.length;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.translate(middle, middle);
    const angle = (step) => (step / steps) * 2 * Math.PI - Math.PI / 2;
    pen.lineWidth = 1;
    pen.strokeStyle = tone("line");
    for (const radius of [inner, outer]) { pen.beginPath(); pen.arc(0, 0, radius, 0, 2 * Math.PI); pen.stroke(); }
    pen.strokeStyle = tone("seam");
    pen.lineWidth = 1.5;
    for (let plate = 0; plate < data.wheel.plates; plate++) {
      const a = angle(plate * data.wheel.steps_per_plate - 0.3);
      pen.beginPath();
      pen.moveTo(inner * Math.cos(a), inner * Math.sin(a));
      pen.lineTo(outer * Math.cos(a), outer * Math.sin(a));
      pen.stroke();
      const b = angle((plate + 0.5) * data.wheel.steps_per_plate);
      pen.fillStyle = tone("soft");
      pen.font = "12px system-ui, sans-serif";
      pen.textAlign = "center";
      pen.textBaseline = "middle";
      pen.fillText(String(plate + 1), (inner - 12) * Math.cos(b), (inner - 12) * Math.sin(b));
    }
    pen.lineWidth = Math.max(1.2, Math.min(3, (1.4 * Math.PI * outer) / steps));
    for (const { at, count } of this.load) {
      const a = angle(at), end = outer + 2 + (Face.LOAD - 2) * (count / this.most);
      pen.strokeStyle = tone(count === this.most ? "ink" : "soft");
      pen.beginPath();
      pen.moveTo((outer + 2) * Math.cos(a), (outer + 2) * Math.sin(a));
      pen.lineTo(end * Math.cos(a), end * Math.sin(a));
      pen.stroke();
    }
    const { channel, at, outcome, row } = data.notes, wide = (outer - inner) / count, r = Math.max(1.4, wide / 2.6);
    const lanes = new Lanes(data.wheel, wide * count, 0, wide);
    channel.forEach((number, note) => {
      if (number < 0 || at[note] === null || outcome[note] === "shared") return;
      const radius = inner + wide * (number + 0.5) + lanes.below(row[note]) * (wide / lanes.high), a = angle(at[note]);
      const path = new Path2D();
      Marks.trace(path, outcome[note], radius * Math.cos(a), radius * Math.sin(a), r);
      pen.fillStyle = pen.strokeStyle = tone(outcome[note]);
      pen.lineWidth = 1;
      if (Marks.stroked(outcome[note])) pen.stroke(path); else pen.fill(path);
    });
  }

  /** Turn the wheel so that a step of the turn is under the reader at the top. */
  turnTo(step) { this.canvas.style.transform = `rotate(${(-360 * step) / this.steps}deg)`; }
}
