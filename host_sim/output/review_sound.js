"use strict";
// The unit's sound, made from what its tone driver told the PWM: the same pulse wave, by the same
// Fourier series, as the WAV that `alula replay --sound` writes (see sound.py).

// As Python rounds, so that both put an edge on the same sample.
function roundHalfEven(x) {
  const up = Math.round(x);
  return up - x === 0.5 && up % 2 ? up - 1 : up;
}

class PulseWave {
  // times_us, hz, duty: the driver's events, in order of time. constants: pass_hz, peak.
  constructor(times_us, hz, duty, constants) {
    this.times_us = times_us;
    this.hz = hz;
    this.duty = duty;
    this.constants = constants;
    this.phase = 0;
  }

  // `count` samples from sample number `first` on; the phase runs on from call to call.
  render(first, count, rate) {
    const samples = new Float32Array(count);
    const end = first + count;
    const begin_of = (i) => roundHalfEven(this.times_us[i] * rate / 1e6);
    let i = Math.max(0, lastUpTo(this.times_us, first * 1e6 / rate) - 2);
    for (; i < this.times_us.length && begin_of(i) < end; i++) {
      const from = Math.max(first, begin_of(i));
      const to = i + 1 < this.times_us.length ? Math.min(end, begin_of(i + 1)) : end;
      if (to > from) {
        this._fill(samples, from - first, to - first, this.hz[i], this.duty[i] / 65536, rate);
      }
    }
    return samples;
  }

  _fill(samples, first, last, hz, duty, rate) {
    const step = 2 * Math.PI * hz / rate;
    if (hz && duty) {
      const harmonics = Math.max(1, Math.floor(this.constants.pass_hz / hz));
      for (let n = 1; n <= harmonics; n++) {
        const size = this.constants.peak * Math.sin(n * Math.PI * duty) / n;
        for (let k = first; k < last; k++) {
          samples[k] += size * Math.cos(n * (this.phase + step * (k - first) - Math.PI * duty));
        }
      }
    }
    this.phase = (this.phase + step * (last - first)) % (2 * Math.PI);
  }
}

// Plays a wave in short pieces, laid end to end; `now()` is the moment that is heard.
class Player {
  constructor(wave, rate) {
    this.wave = wave;
    this.rate = rate;
    this.volume = 0.5;
    this.context = null;
    this.playing = false;
  }

  start(from_s) {
    if (!this.context) this._open();
    this.context.resume();
    this.playing = true;
    this.sources = new Set();
    this.from_s = from_s;
    this.wave.phase = 0;
    this.made = Math.round(from_s * this.context.sampleRate);  // samples
    this.context_at = this.context.currentTime + 0.05;
    this.wall_at = performance.now() / 1000 + 0.05;
    this.fill();
    this.timer = setInterval(() => this.fill(), 100);
  }

  _open() {
    const Context = window.AudioContext || window.webkitAudioContext;
    this.context = new Context({ sampleRate: this.rate });
    this.gain = this.context.createGain();
    this.gain.gain.value = this.volume;
    this.gain.connect(this.context.destination);
  }

  // Keep a second ready.
  fill() {
    const rate = this.context.sampleRate;
    const count = Math.round(0.25 * rate);
    while (this.made / rate < this.now() + 1) {
      const buffer = this.context.createBuffer(1, count, rate);
      buffer.copyToChannel(this.wave.render(this.made, count, rate), 0);
      const source = this.context.createBufferSource();
      source.buffer = buffer;
      source.connect(this.gain);
      source.start(this.context_at + Math.max(0, this.made / rate - this.from_s));
      source.onended = () => this.sources.delete(source);
      this.sources.add(source);
      this.made += count;
    }
  }

  // The sound card's clock; where there is no sound card it stands still, and the wall clock serves.
  now() {
    const heard_s = this.context.currentTime - this.context_at;
    const wall_s = performance.now() / 1000 - this.wall_at;
    this.mute = wall_s - heard_s > 1;
    return this.from_s + Math.max(0, this.mute ? wall_s : heard_s);
  }

  stop() {
    this.playing = false;
    clearInterval(this.timer);
    for (const source of this.sources) source.stop();
  }

  setVolume(volume) {
    this.volume = volume;
    if (this.gain) this.gain.gain.setTargetAtTime(volume, this.context.currentTime, 0.02);
  }
}
