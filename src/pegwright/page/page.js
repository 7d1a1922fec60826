/* The page: choosing notes, lists linked both ways, filters, and play. */
(() => {
  const song = JSON.parse(document.getElementById("data").textContent);
  // A song of several turns: one is shown at a time, named in the address
  const sets = song.sets ?? [song];
  const turns = (song.turns ?? [song]).map((turn) => ({ set: 0, ...turn, ...(song.fits ? { held: song.fits[turn.fit].held, notes: { ...song.fits[turn.fit].notes, ...turn.notes } } : {}) }));
  const shownTurn = Math.max(0, turns.findIndex((_, number) => location.hash === `#turn-${number + 1}`));
  addEventListener("hashchange", () => { if (location.hash.startsWith("#turn-")) location.reload(); });
  const data = { ...song, ...turns[shownTurn], counts: sets[turns[shownTurn].set].counts };
  const firstNote = data.first_note ?? 0;
  const { notes, wheel, doubtful } = data;
  const $ = (id) => document.getElementById(id);
  const { make, sentence } = Words;
  const steps = wheel.plates * wheel.steps_per_plate;
  const count = notes.outcome.length;
  const isDoubtful = (note) => doubtful[note] !== undefined;
  const SEVERE = ["out", "audible", "slight", "doubtful", "unheard"];
  const troubleOf = (note) => {
    const outcome = notes.outcome[note];
    if (isDoubtful(note) && !["out", "audible", "slight"].includes(outcome)) return "doubtful";
    return SEVERE.includes(outcome) ? outcome : "";
  };
  const byTime = [...Array(count).keys()].sort((a, b) => notes.score_s[a] - notes.score_s[b] || a - b);
  const troubles = byTime.filter(troubleOf).sort((a, b) => SEVERE.indexOf(troubleOf(a)) - SEVERE.indexOf(troubleOf(b)) || notes.score_s[a] - notes.score_s[b]);
  const nameOf = (note) => `${notes.pitch[note]}, ${notes.where[note]}, ${data.parts[notes.part[note]]}`;
  const remedies = new Map((data.remedies?.notes ?? []).map((item) => [item.note - 1 - firstNote, item.remedies]));

  // Head
  $("title").textContent = data.title;
  $("verdict").append(...sentence("p", data.verdict).childNodes);
  $("facts").textContent = `${data.file} on ${wheel.name} · ${data.tempo} quarter notes a minute, ${data.turn_s.toFixed(1)} s a turn · starts on plate ${data.start.plate}, step ${data.start.step}`;

  if (data.pins_only) {
    for (const each of [$("options"), $("modes"), $("troubles-box"), document.querySelector(".skip")]) each.hidden = true;
    $("detail").replaceChildren(make("p", "Choose a pin on the wheel."));
  }
  $("options").append(make("span", "Options: "), data.options ? make("code", data.options) : "none, the song as it is written");

  $("sets").hidden = turns.length < 2;
  turns.forEach((turn, number) => {
    if (turns.length < 2) return;
    const link = Object.assign(make("a", `${sets[turn.set].letter}: ${turn.place}`), { href: `#turn-${number + 1}` });
    if (number === shownTurn) link.setAttribute("aria-current", "page");
    $("sets").append(link);
  });

  // Filters double as the legend
  const strip = new Strip(data, $("unrolled"), $("strip"), $("spacer"));
  const face = new Face(data, $("face"));
  const within = `${Math.round(1000 * data.load_window_s)} ms`;
  $("load").textContent = face.load.length
    ? `The bars round the rim show the load: how many pins trip within ${within} of each place, ${face.most} at most.` : "";
  for (const outcome of [...Marks.ORDER, "doubtful"]) {
    const total = outcome === "doubtful" ? Object.keys(doubtful).length : notes.outcome.filter((each) => each === outcome).length;
    if (!total) continue;
    const label = make("label"), box = make("input");
    box.type = "checkbox";
    box.checked = true;
    box.addEventListener("change", () => {
      if (box.checked) strip.shown.add(outcome); else strip.shown.delete(outcome);
      strip.redraw();
      listTroubles();
    });
    label.append(box, Marks.icon(outcome), `${data.pins_only ? "pins that strike" : Marks.WORDS[outcome] ?? outcome} ${total.toLocaleString("en-GB")}`);
    $("filters").append(label);
  }

  if (wheel.rows.length > 1) {
    const names = wheel.rows.map((_, line) => wheel.rows[wheel.lines_of_rows.indexOf(line)]);
    $("rows").textContent = `Rows of holes in a lane, from its top: ${names.join(", ")}.`;
    $("rows").hidden = false;
  }

  // Bars as music: each mark's number leads to its notes and back
  const keyOf = new Map();
  data.music.pictures.forEach((picture, place) => {
    for (const line of picture.key) for (const note of line.notes) keyOf.set(note - firstNote, { number: line.number, place, title: picture.title });
  });
  function showMusic() {
    $("music").hidden = !data.music.pictures.length && !data.music.told.length;
    $("music-told").append(...data.music.told.map((words) => make("li", `${words}.`)));
    data.music.pictures.forEach((picture, place) => {
      const figure = $(`picture-${place}`);
      figure.querySelector(".key").append(...picture.key.map((line) => {
        const note = line.notes[0], button = make("button"), item = make("li");
        button.type = "button";
        button.dataset.mark = line.number;
        button.append(Marks.icon(line.level), make("b", line.number), make("span", line.name), make("span", line.what, "why"));
        button.addEventListener("click", () => chooseOfSong(note));
        item.append(button);
        return item;
      }));
      figure.addEventListener("click", (event) => {
        const mark = event.target.closest("g.mark");
        if (mark) chooseOfSong(picture.key.find((line) => line.number === Number(mark.dataset.mark)).notes[0]);
      });
    });
  }

  // Troubles
  if (turns.length > 1) {
    $("trouble-turn").textContent = `in turn ${shownTurn + 1}`;
    $("filters-turn").textContent = `In turn ${shownTurn + 1}`;
  }
  let listed = 200;
  function listTroubles() {
    const shown = troubles.filter((note) => strip.shown.has(troubleOf(note)));
    $("trouble-count").textContent = `(${shown.length.toLocaleString("en-GB")})`;
    $("troubles").replaceChildren(...shown.slice(0, listed).map((note) => {
      const button = make("button");
      button.type = "button";
      button.dataset.note = note;
      button.setAttribute("aria-current", String(note === strip.selected));
      button.append(Marks.icon(troubleOf(note)), make("span", nameOf(note)), make("span", whatHappened(note), "why"));
      if (keyOf.has(note)) button.lastChild.append(` · mark ${keyOf.get(note).number}`);
      button.addEventListener("click", () => choose(note, false));
      const item = make("li");
      item.append(button);
      return item;
    }));
    if (!shown.length) $("troubles").append(make("li", "None: every note shown is where the score has it.", "soft"));
    $("more").hidden = shown.length <= listed;
    $("unlisted").textContent = `and ${(shown.length - listed).toLocaleString("en-GB")} more: choose Show more before printing`;
    $("unlisted").hidden = shown.length <= listed;
  }
  $("more").addEventListener("click", () => { listed += 500; listTroubles(); });

  const doubtWords = (note) => `in doubt whether this is its hole (confidence ${Math.floor(100 * doubtful[note])} %)`;
  const signedMs = (ms) => `${Math.abs(ms).toFixed(1)} ms ${ms > 0 ? "late" : "early"}`;
  function whatHappened(note) {
    const outcome = notes.outcome[note];
    const doubt = isDoubtful(note) ? doubtWords(note) : "";
    if (outcome === "out") return [`left out: ${notes.reason[note]}`, doubt].filter(Boolean).join("; ");
    return [notes.ms[note] ? `${signedMs(notes.ms[note])}, ${outcome}` : "", doubt].filter(Boolean).join("; ");
  }

  // The note chosen
  /** A note by its number in the song: one of another set of plates is shown with that set. */
  function chooseOfSong(number) {
    if (number >= firstNote && number < firstNote + count) { choose(number - firstNote); return; }
    const other = turns.findIndex((turn) => number >= turn.first_note && number < turn.first_note + turn.notes.outcome.length);
    if (other >= 0) location.hash = `#turn-${other + 1}`;
  }
  function choose(note, toList = true) {
    strip.selected = note;
    if (strip.onWheel(note)) strip.reveal(notes.at[note]);
    strip.redraw();
    for (const button of $("troubles").querySelectorAll("button")) {
      const current = Number(button.dataset.note) === note;
      button.setAttribute("aria-current", String(current));
      if (current && toList) button.scrollIntoView({ block: "nearest" });
    }
    const key = keyOf.get(note);
    for (const each of $("music").querySelectorAll("[data-mark]")) {
      const current = Number(each.dataset.mark) === key?.number;
      each.classList.toggle("current", current);
    }
    const outcome = notes.outcome[note], rows = [];
    rows.push(["Where", `${notes.where[note]}, ${data.parts[notes.part[note]]}`]);
    if (notes.channel[note] >= 0) rows.push(["Channel", `${notes.channel[note] + 1}, ${wheel.channels[notes.channel[note]].name}`]);
    if (notes.step[note] !== null) rows.push(["Hole", `plate ${notes.plate[note]} step ${notes.step[note]} row ${wheel.rows[notes.row[note]]}`]);
    if (notes.pin[note] !== null && data.counts.types.length > 1) rows.push(["Pin type", data.counts.types[notes.pin[note]].name]);
    if (notes.lasts_s[note]) {
      const further = data.held.note.filter((other) => other === note).length;
      rows.push(["Held", `${notes.lasts_s[note].toFixed(2)} s, by ${further} further pin${further === 1 ? "" : "s"}`]);
    }
    if (!data.pins_only) rows.push(["Outcome", Marks.WORDS[outcome]]);
    if (notes.ms[note]) rows.push(["Deviation", signedMs(notes.ms[note])]);
    if (isDoubtful(note)) rows.push(["Played", doubtWords(note)]);
    if (outcome === "out") rows.push(["Reason", notes.reason[note]]);
    if (notes.detail[note]) rows.push(["More", notes.detail[note]]);
    const helps = [...(notes.hint[note] ? [notes.hint[note]] : []), ...(remedies.get(note) ?? []).map((remedy) => remedyWords(remedy))];
    if (helps.length) rows.push(["What helps", helps]);
    const list = make("dl");
    for (const [name, value] of rows) {
      list.append(make("dt", name));
      for (const words of [value].flat()) list.append(make("dd", words));
    }
    if (key) list.append(make("dt", "As music"), make("dd"));
    if (key) list.lastChild.append(Object.assign(make("a", `mark ${key.number} in ${key.title.toLowerCase()}`), { href: `#picture-${key.place}` }));
    $("detail").replaceChildren(make("p", notes.pitch[note], "name"), list);
    $("detail").parentElement.scrollIntoView({ block: "nearest" }); // on a telephone it is not beside the wheel
  }
  function remedyWords(remedy, withOptions = true) {
    const what = remedy.changes.map((change) => (withOptions ? `${change.what} (${change.options})` : change.what)).join(", and ");
    const merged = remedy.merged ? `, ${remedy.merged} sharing the pin of a note of another pitch` : "";
    return `${what}: ${data.count.read - data.count.dropped - remedy.not_sounding} of ${data.count.read} notes sound${merged}, ${remedy.moved_audibly} moved audibly`;
  }

  function rhythmWords(rhythm) {
    const now = rhythm.times_unheard_now === null ? "" : `, now ${rhythm.times_unheard_now.toFixed(1)} times`;
    const what = rhythm.changes.map((change) => change.what).join(", and ");
    return `${what}: ${rhythm.sounding} of ${data.count.read} notes sound; the time from onset to onset changes by up to ${rhythm.interval_change_ms.toFixed(1)} ms (${rhythm.audibility}), in all ${rhythm.times_unheard.toFixed(1)} times what goes unheard${now}`;
  }

  // Pointer and keys
  const canvas = $("unrolled");
  canvas.addEventListener("click", (event) => {
    const note = strip.noteAt(event.offsetX, event.offsetY);
    if (note >= 0) choose(note);
  });
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    strip.setZoom(strip.pitch * (event.deltaY < 0 ? 1.2 : 1 / 1.2), strip.stepAt(event.offsetX));
  }, { passive: false });
  let dragged = null;
  canvas.addEventListener("pointerdown", (event) => { if (event.pointerType === "mouse") dragged = { x: event.clientX, left: strip.box.scrollLeft }; });
  addEventListener("pointermove", (event) => { if (dragged) strip.box.scrollLeft = dragged.left - (event.clientX - dragged.x); });
  addEventListener("pointerup", () => { dragged = null; });

  function step(list, by) {
    if (!list.length) return;
    const here = list.indexOf(strip.selected);
    choose(list[here < 0 ? (by > 0 ? 0 : list.length - 1) : (here + by + list.length) % list.length]);
  }
  const KEYS = {
    ArrowRight: () => step(visible(), 1),
    ArrowLeft: () => step(visible(), -1),
    Home: () => choose(byTime[0]),
    End: () => choose(byTime[count - 1]),
    t: () => step(troubles, 1),
    T: () => step(troubles, -1),
    "+": () => strip.setZoom(strip.pitch * 1.5),
    "=": () => strip.setZoom(strip.pitch * 1.5),
    "-": () => strip.setZoom(strip.pitch / 1.5),
    " ": () => toggle(),
  };
  const visible = () => byTime.filter((note) => strip.onWheel(note) && strip.shown.has(notes.outcome[note]));
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !KEYS[event.key] || !count) return;
    event.preventDefault();
    KEYS[event.key]();
  });
  $("zoom-in").addEventListener("click", KEYS["+"]);
  $("zoom-out").addEventListener("click", KEYS["-"]);
  $("zoom-fit").addEventListener("click", () => strip.setZoom(0));
  // On paper: the whole turn shown, then one turn of every other set of plates
  addEventListener("beforeprint", () => {
    const others = sets.map((_, set) => turns.findIndex((turn) => turn.set === set)).filter((turn) => turns[turn].set !== turns[shownTurn].set);
    $("paper").replaceChildren(...[shownTurn, ...others].map((number) => {
      const turn = turns[number], { letter, counts } = sets[turn.set], drawing = make("div", undefined, "bands");
      const pins = `${counts.all.toLocaleString("en-GB")} pin${counts.all === 1 ? "" : "s"}`;
      drawing.append(make("h3", turns.length > 1 ? `${letter}: ${turn.place}, ${pins}` : pins), ...Paper.drawn(wheel, turn));
      return drawing;
    }));
  });
  addEventListener("afterprint", () => $("paper").replaceChildren());

  // Pins, remedies, findings
  function table(heads, rows) {
    const element = make("table"), head = make("tr");
    for (const name of heads) head.append(Object.assign(make("th", name), { scope: "col" }));
    element.append(make("thead"), make("tbody"));
    element.tHead.append(head);
    for (const row of rows) {
      const line = make("tr");
      row.forEach((value, column) => line.append(column ? make("td", value) : Object.assign(make("th", value), { scope: "row" })));
      element.tBodies[0].append(line);
    }
    return element;
  }
  const tables = make("div", undefined, "tables");
  tables.append(
    table(["Plate", "Pins"], [...data.counts.plates.map((pins, plate) => [plate + 1, pins]), ["All", data.counts.all]]),
    table(["Channel", "Pins"], wheel.channels.map((channel, number) => [channel.name, data.counts.channels[number]]).filter((row) => row[1])),
    table(["Pin type", "Pins", "In stock"], data.counts.types.map((type) => [type.name, type.pins, type.stock])),
  );
  if (sets.length > 1) $("counts-set").textContent = `of set ${sets[data.set].letter}`;
  $("counts").append(tables);
  if (data.remedies) {
    $("helps").hidden = false;
    const list = make("ol");
    for (const remedy of data.remedies.song) {
      const item = make("li", `${remedyWords(remedy, false)}. `);
      item.append(make("code", remedy.command));
      list.append(item);
    }
    for (const rhythm of data.remedies.rhythms ?? []) {
      const item = make("li", `${rhythmWords(rhythm)}. `);
      item.append(make("code", rhythm.command));
      list.append(item);
    }
    $("help-list").append(list.childElementCount ? list : make("p", "No change that was tried makes the song better."));
    if (data.remedies.wheel) {
      const changes = make("ul");
      for (const words of data.remedies.wheel.changes) changes.append(make("li", words));
      $("help-list").append(make("p", `As few changes to the wheel as bring in ${data.remedies.wheel.not_sounding_now - data.remedies.wheel.not_sounding} more notes:`), changes);
      $("help-list").append(make("p", data.cautions.change, "caution"));
      for (const edit of data.remedies.wheel.file) $("help-list").append(sentence("p", `${edit.where}:`), make("pre", edit.toml));
    }
    if (!data.remedies.complete) $("help-list").append(make("p", "Not all was tried: the work allowed for this was spent. Pin the song with --remedies for the rest."));
  }
  $("cautions").append(...data.cautions.touch.map((words) => make("li", words)));
  for (const finding of data.findings) {
    $("findings-box").hidden = false;
    $("findings").append(sentence("li", `${finding.where ? `${finding.where}: ` : ""}${finding.message}${finding.hint ? ` (${finding.hint})` : ""}`));
  }

  // Play
  const AHEAD_S = 0.25;
  /** Strikes of a mode in time order: seconds from the song's start, note of which turn, and side -1 left, 1 right, 0 middle. */
  function strikes(mode) {
    const found = [];
    turns.forEach((turn, number) => {
      const of = turn.notes, begins = number * data.turn_s;
      for (let note = 0; note < of.outcome.length; note++) {
        if (of.channel[note] < 0 && mode === "pins") continue;
        if (mode !== "score" && of.pin_s[note] !== null) found.push({ at: begins + of.pin_s[note], note, turn: number, side: mode === "both" ? 0.8 : 0 });
        if (mode !== "pins" && of.outcome[note] !== "shared") found.push({ at: begins + of.score_s[note], note, turn: number, side: mode === "both" ? -0.8 : 0 });
      }
    });
    return found.sort((a, b) => a.at - b.at || a.note - b.note);
  }
  const UNPLACED = ({ note, turn }) => ({ voice: "bar", key: 72, ...wheel.channels[turns[turn].notes.channel[note]] });
  function sound(context, out, event, when) {
    const panner = context.createStereoPanner();
    panner.pan.value = event.side;
    panner.connect(out);
    const { velocity, lasts_s } = turns[event.turn].notes;
    Sound.strike(context, panner, when, UNPLACED(event), velocity[event.note], lasts_s[event.note] / rate());
  }

  let playing = null;
  const mode = () => document.querySelector('input[name="mode"]:checked').value;
  const rate = () => Number($("tempo").value) / 100;
  const stepsPerSecond = steps / data.turn_s;
  const songSeconds = turns.length * data.turn_s;

  function start(from = 0) {
    const context = new AudioContext();
    const limiter = context.createDynamicsCompressor();
    limiter.connect(context.destination);
    const events = strikes(mode());
    const last = events.length ? events[events.length - 1].at + 1.5 : 1;
    playing = { context, out: limiter, events, next: events.findIndex((event) => event.at >= from), rate: rate(), from,
      begun: context.currentTime + 0.1, ends: mode() === "pins" ? Math.max(songSeconds, last - 1.5) : last };
    if (playing.next < 0) playing.next = events.length;
    playing.timer = setInterval(schedule, 60);
    schedule();
    $("play").textContent = "Pause";
    $("play").setAttribute("aria-pressed", "true");
    $("play-line").hidden = false;
    requestAnimationFrame(frame);
  }
  const now = () => Math.max(playing.from, playing.from + (playing.context.currentTime - playing.begun) * playing.rate);
  function schedule() {
    const { context, out, events, begun, from } = playing;
    const until = now() + AHEAD_S * playing.rate;
    while (playing.next < events.length && events[playing.next].at <= until) {
      const event = events[playing.next++];
      sound(context, out, event, Math.max(context.currentTime, begun + (event.at - from) / playing.rate));
    }
    if (now() >= playing.ends) { stop(); paused = 0; if ($("loop").checked) start(0); }
  }
  let paused = shownTurn * data.turn_s;
  function stop() {
    paused = now();
    clearInterval(playing.timer);
    playing.context.close();
    playing = null;
    $("play").textContent = "Play";
    $("play").setAttribute("aria-pressed", "false");
  }
  function toggle() { if (playing) stop(); else start(paused >= 0 ? paused : 0); }
  function frame() {
    if (!playing) return;
    showTime(now());
    requestAnimationFrame(frame);
  }
  let following = true;
  function showTime(second) {
    const step = (((data.start.steps + Math.max(0, second) * stepsPerSecond) % steps) + steps) % steps;
    const turn = Math.min(turns.length - 1, Math.max(0, Math.floor(second / data.turn_s)));
    const onShown = turns[turn].set === turns[shownTurn].set; // whose pins are those of the turn shown
    if (playing && following && onShown) strip.reveal(step);
    const x = strip.xOf(step) + strip.box.scrollLeft;
    $("play-line").style.transform = `translateX(${x}px)`;
    $("play-line").style.visibility = !onShown || strip.xOf(step) < Strip.LABELS ? "hidden" : "visible";
    face.turnTo(step);
    const where = turns.length > 1 ? `, turn ${turn + 1} on ${sets[turns[turn].set].letter}` : "";
    $("clock").textContent = `${second.toFixed(1)} s of ${songSeconds.toFixed(1)} s${where}`;
  }
  $("play").addEventListener("click", toggle);
  const restart = () => { if (playing) { const at = now(); stop(); start(at); } };
  $("modes").addEventListener("change", restart);
  $("tempo").addEventListener("input", () => {
    $("tempo-out").textContent = `♩ = ${Math.round(data.tempo * rate())}`;
    restart();
  });
  $("tempo-out").textContent = `♩ = ${Math.round(data.tempo)}`;

  // What lies beside the play bar ends above it, however many lines the bar takes
  const bar = document.querySelector("footer");
  new ResizeObserver(() => document.documentElement.style.setProperty("--bar", `${bar.offsetHeight}px`)).observe(bar);

  showMusic();
  listTroubles();
  strip.setZoom(innerWidth < 600 ? 7 : 0, 0);
  showTime(paused);

  /* For tests: what would be played, played into memory instead of a loudspeaker; and the cost of one drawing. */
  globalThis.pegwrightPage = {
    strikes,
    async render(which, seconds) {
      const context = new OfflineAudioContext(2, Math.ceil(seconds * 44100), 44100);
      for (const event of strikes(which)) if (event.at < seconds) sound(context, context.destination, event, event.at);
      const buffer = await context.startRendering();
      return [buffer.getChannelData(0), buffer.getChannelData(1)];
    },
    frameMs(times) {
      const before = performance.now();
      for (let i = 0; i < times; i++) { strip.draw(); showTime(i / times); }
      return (performance.now() - before) / times;
    },
  };
})();
