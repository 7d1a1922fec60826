"use strict";
/* The sound of a pin: struck bars, plucked strings and drums, made of a few partials each. */
const Sound = (() => {
  // Source: a uniform bar with free ends rings at 1 : 2.756 : 5.404 (Euler-Bernoulli beam).
  const BAR = [[1, 1, 1.6], [2.756, 0.32, 0.5], [5.404, 0.12, 0.2]];
  const STRING = [[1, 1, 1.1], [2, 0.5, 0.7], [3, 0.28, 0.5], [4, 0.16, 0.35], [5, 0.09, 0.25]];
  const NOISES = { 38: [1800, 0.16], 40: [1800, 0.16], 42: [8000, 0.05], 44: [7000, 0.06], 46: [7500, 0.3],
    54: [9000, 0.14], 39: [1500, 0.12], 49: [6000, 0.9], 51: [6500, 0.5], 70: [6000, 0.06] };
  const TONES = { 35: [52, 0.32], 36: [58, 0.3], 38: [185, 0.1], 41: [90, 0.3], 45: [120, 0.28], 48: [160, 0.25],
    76: [1150, 0.07], 77: [820, 0.08], 75: [2400, 0.05], 80: [3600, 0.08], 81: [3600, 0.9], 56: [560, 0.25] };

  const hertz = (pitch) => 440 * 2 ** ((pitch - 69) / 12);

  function tone(context, out, when, frequency, level, seconds) {
    if (frequency > context.sampleRate / 2.2) return;
    const oscillator = context.createOscillator();
    const gain = context.createGain();
    oscillator.frequency.value = frequency;
    gain.gain.setValueAtTime(0, when);
    gain.gain.linearRampToValueAtTime(level, when + 0.002);
    gain.gain.exponentialRampToValueAtTime(level * 0.001, when + 0.002 + seconds);
    oscillator.connect(gain).connect(out);
    oscillator.start(when);
    oscillator.stop(when + seconds + 0.01);
  }

  const buffers = new WeakMap();
  function noise(context, out, when, highpass, level, seconds) {
    if (!buffers.has(context)) {
      const buffer = context.createBuffer(1, context.sampleRate, context.sampleRate);
      const samples = buffer.getChannelData(0);
      let seed = 1;
      for (let i = 0; i < samples.length; i++) {
        seed = (seed * 1103515245 + 12345) & 0x7fffffff; // the same noise every time
        samples[i] = seed / 0x3fffffff - 1;
      }
      buffers.set(context, buffer);
    }
    const source = context.createBufferSource();
    const filter = context.createBiquadFilter();
    const gain = context.createGain();
    source.buffer = buffers.get(context);
    filter.type = "highpass";
    filter.frequency.value = highpass;
    gain.gain.setValueAtTime(level, when);
    gain.gain.exponentialRampToValueAtTime(level * 0.001, when + seconds);
    source.connect(filter).connect(gain).connect(out);
    source.start(when);
    source.stop(when + seconds);
  }

  // Source: a blown pipe's steady tone is strictly harmonic.
  const PIPE = [[1, 1], [2, 0.42], [3, 0.26], [4, 0.1]];
  /** A pipe that is held for so many seconds. */
  function pipe(context, out, when, frequency, level, seconds) {
    const gain = context.createGain();
    gain.gain.setValueAtTime(0, when);
    gain.gain.linearRampToValueAtTime(level, when + Math.min(0.03, seconds / 2));
    gain.gain.setValueAtTime(level, when + seconds);
    gain.gain.linearRampToValueAtTime(0, when + seconds + 0.06);
    gain.connect(out);
    for (const [ratio, share] of PIPE) {
      const oscillator = context.createOscillator(), part = context.createGain();
      oscillator.frequency.value = frequency * ratio;
      part.gain.value = share;
      oscillator.connect(part).connect(gain);
      oscillator.start(when);
      oscillator.stop(when + seconds + 0.07);
    }
  }

  /** Sound one strike of a channel at a time of the context; a channel that holds sounds for so many seconds. */
  function strike(context, out, when, channel, velocity, seconds) {
    const loud = 0.22 * (velocity / 127) ** 1.3;
    if (channel.voice === "drum") {
      const [frequency, ring] = TONES[channel.key] || [];
      const [highpass, hiss] = NOISES[channel.key] || (frequency ? [] : [3000, 0.08]);
      if (frequency) tone(context, out, when, frequency, loud * 1.3, ring);
      if (highpass) noise(context, out, when, highpass, loud * 0.5, hiss);
      return;
    }
    if (channel.voice === "pipe") {
      pipe(context, out, when, hertz(channel.key), loud * 0.5, seconds || 0.25);
      return;
    }
    for (const [ratio, share, ring] of channel.voice === "bar" ? BAR : STRING) {
      tone(context, out, when, hertz(channel.key) * ratio, loud * share, ring * (channel.key < 60 ? 1.3 : 1));
    }
  }
  return { strike };
})();
