/* The wheel unrolled for paper: the whole turn in bands below each other, drawn as lines and not as dots. */
const Paper = (() => {
  const WIDTH = 760, LABELS = 104, HEAD = 38; // in the units of the drawing, of which a sheet is WIDTH wide
  const NARROWEST = 4.5; // of a step
  const MOST_STEPS = Math.floor((WIDTH - LABELS - 12) / NARROWEST);

  function element(name, attributes, words) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (words !== undefined) made.textContent = words;
    return made;
  }
  const short = (value) => Math.round(value * 100) / 100;

  /** Steps of the turn in ranges of equal length: of several plates each, or else of a part of a plate. */
  function bands(wheel) {
    const { plates, steps_per_plate: steps } = wheel, ranges = [];
    if (steps > MOST_STEPS) {
      const long = Math.ceil(steps / Math.ceil(steps / MOST_STEPS));
      for (let plate = 0; plate < plates; plate++) {
        for (let at = 0; at < steps; at += long) ranges.push({ from: plate * steps + at, to: plate * steps + Math.min(steps, at + long) });
      }
      return { long, ranges };
    }
    const count = Math.ceil(plates / Math.floor(MOST_STEPS / steps)), long = Math.ceil(plates / count) * steps;
    for (let from = 0; from < plates * steps; from += long) ranges.push({ from, to: Math.min(plates * steps, from + long) });
    return { long, ranges };
  }

  class Band {
    constructor(wheel, range, long, isFirst, isLast) {
      Object.assign(this, { wheel, ...range, isFirst, isLast });
      this.lanes = new Lanes(wheel, 320, 9, 16, 3.5);
      this.pitch = (WIDTH - LABELS - 12) / long;
      this.bottom = HEAD + this.lanes.high * wheel.channels.length;
    }
    x(step) { return short(LABELS + 4 + (step - this.from) * this.pitch); }
    y(channel, row) { return short(HEAD + this.lanes.middle(channel) + this.lanes.below(row)); }
    /** A note may be moved to just before the first step of the turn, or after the last hole of the last. */
    holds(step) { return (step >= this.from || this.isFirst) && (step < this.to || this.isLast); }

    /** Lanes, seams, bars and numbers of steps. */
    ground(bars) {
      const { wheel } = this, shapes = [], right = this.x(this.to), perPlate = wheel.steps_per_plate;
      const line = (x, top, kind) => shapes.push(element("line", { x1: x, x2: x, y1: top, y2: this.bottom, class: kind }));
      const words = (x, y, text, kind) => shapes.push(element("text", { x, y, class: kind }, text));
      wheel.channels.forEach((channel, number) => {
        if (number % 2 === 0) shapes.push(element("rect", { x: 0, y: short(HEAD + this.lanes.high * number), width: right, height: short(this.lanes.high), class: "lane" }));
        words(4, short(this.y(number, -1) + 3.4), channel.name, "name");
      });
      words(4, Strip.LINES.bar, "bar", "axis");
      words(4, Strip.LINES.step, "step", "axis");
      for (const bar of bars) if (this.holds(bar.at)) line(this.x(bar.at), 14, "bar-line");
      let free = 0;
      for (const bar of [...bars].sort((a, b) => a.at - b.at)) {
        if (!this.holds(bar.at) || this.x(bar.at) < free) continue;
        words(this.x(bar.at) + 2, Strip.LINES.bar, bar.label, "axis");
        free = this.x(bar.at) + 6 * bar.label.length + 8;
      }
      for (let plate = Math.floor(this.from / perPlate); plate * perPlate <= this.to; plate++) {
        if (plate * perPlate >= this.from) line(short(this.x(plate * perPlate) - Math.min(3, this.pitch * 0.3)), 0, "seam");
        const begins = Math.max(plate * perPlate, this.from);
        if (begins < this.to) words(this.x(begins) + 2, Strip.LINES.plate, `plate ${plate + 1}`, "plate");
        for (const step of numberedSteps(wheel, this.pitch, 22)) {
          const at = plate * perPlate + step;
          if (at >= this.from && at < this.to) words(this.x(at) + 1, Strip.LINES.step, step + 1, "axis");
        }
      }
      return shapes;
    }

    /** Every note that has a place in the band, each a shape of its own; its name is there for whoever counts them. */
    marks(turn, doubtful) {
      const { notes, held } = turn, r = Math.max(1.8, Math.min(3.6, this.pitch * 0.42, this.lanes.mark)), shapes = [];
      held.note.forEach((note, pin) => {
        if (this.holds(held.at[pin])) shapes.push(element("circle", { cx: this.x(held.at[pin]), cy: this.y(notes.channel[note], held.row[pin]), r: short(0.7 * r), class: "further" }));
      });
      notes.at.forEach((at, note) => {
        if (at === null || notes.channel[note] < 0 || !this.holds(at)) return;
        const outcome = notes.outcome[note], x = this.x(at), y = this.y(notes.channel[note], notes.row[note]);
        shapes.push(element("path", { d: Marks.outline(outcome, x, y, r), class: `${Marks.stroked(outcome) ? "drawn" : "filled"} ${outcome}` }));
        if (doubtful[note] !== undefined) shapes.push(element("rect", { x: short(x - r - 2), y: short(y - r - 2), width: short(2 * r + 4), height: short(2 * r + 4), class: "doubt" }));
      });
      return shapes;
    }
  }

  /** The bands of a turn as SVG. */
  function drawn(wheel, turn) {
    const { long, ranges } = bands(wheel);
    return ranges.map((range, number) => {
      const band = new Band(wheel, range, long, number === 0, number === ranges.length - 1);
      const svg = element("svg", { viewBox: `0 0 ${WIDTH} ${Math.ceil(band.bottom) + 4}`, role: "img", "aria-label": `steps ${range.from + 1} to ${range.to} of the turn` });
      svg.append(...band.ground(turn.bars), ...band.marks(turn, turn.doubtful));
      return svg;
    });
  }
  return { drawn };
})();
