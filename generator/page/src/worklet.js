/**
 * What runs beside the sound: reads the pitch of the microphone, and hands on a take.
 *
 * Readings go to the page 30 times a second, no more: telling costs more than finding out.
 */

import { PitchDetector } from './pitch.js';

const READINGS_A_SECOND = 30;
const CHUNK = 4096;

class Listener extends AudioWorkletProcessor {
  /** @param {{processorOptions: {lowestHz: number, highestHz: number}}} options */
  constructor({ processorOptions }) {
    super();
    this.detector = new PitchDetector(sampleRate, processorOptions);
    this.every = Math.round(sampleRate / READINGS_A_SECOND);
    this.sinceRead = 0;
    this.recording = false;
    this.ended = false;
    this.chunk = new Float32Array(CHUNK);
    this.filled = 0;
    this.port.onmessage = ({ data }) => {
      this.recording = data === 'record';
      this.ended = data === 'end';
      if (!this.recording) this.#handOn();
    };
  }

  /** @param {Float32Array[][]} inputs */
  process([input]) {
    if (this.ended) return false;
    const sound = input[0];
    if (sound === undefined) return true;
    this.detector.push(sound);
    this.sinceRead += sound.length;
    if (this.sinceRead >= this.every) {
      this.sinceRead -= this.every;
      const reading = this.detector.read();
      this.port.postMessage({ reading, at_s: currentTime - reading.ago_s });
    }
    if (this.recording) this.#keep(sound);
    return true;
  }

  /** @param {Float32Array} sound */
  #keep(sound) {
    this.chunk.set(sound, this.filled);
    this.filled += sound.length;
    if (this.filled === CHUNK) this.#handOn();
  }

  #handOn() {
    if (this.filled === 0) return;
    const sound = this.chunk.slice(0, this.filled);
    this.port.postMessage({ sound, at_s: currentTime - this.filled / sampleRate }, [sound.buffer]);
    this.filled = 0;
  }
}

registerProcessor('reedmill-listener', Listener);
