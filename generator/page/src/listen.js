/**
 * The microphone: asked for once, read by the worklet, never sent anywhere.
 */

// @ts-ignore  text of the bundled worklet, put in by the bundler
import workletText from 'reedmill:worklet';

/** Why listening cannot begin, in words for whoever plays. @param {unknown} error */
export function reasonOf(error) {
  const name = error instanceof Error ? error.name : '';
  switch (name) {
    case 'NotAllowedError':
      return 'The microphone is not allowed here. Allow it in the settings of your browser for this page, then press it again. The page plays without it.';
    case 'NotFoundError':
      return 'No microphone was found. Connect one, then press it again. The page plays without it.';
    case 'NotReadableError':
      return 'Another program is using the microphone. Close it, then press it again. The page plays without it.';
    default:
      return 'This browser does not let this page use the microphone. Open the page from its folder on a computer, or from an address that begins with https. The page plays without it.';
  }
}

export class Microphone {
  /** @param {AudioContext} context @param {{lowestHz: number, highestHz: number}} bounds */
  constructor(context, bounds) {
    this.context = context;
    this.bounds = bounds;
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {MediaStreamAudioSourceNode | null} */
    this.source = null;
    /** @type {AudioWorkletNode | null} */
    this.node = null;
    /** @type {(reading: import('./pitch.js').Reading, at_s: number) => void} */
    this.onReading = () => {};
    /** @type {(sound: Float32Array, at_s: number) => void} */
    this.onSound = () => {};
    /** Called when it is unplugged, or no longer allowed. */
    this.onLost = () => {};
  }

  get on() {
    return this.node !== null;
  }

  /** Ask for the microphone and begin; throws what `reasonOf` explains. */
  async start() {
    if (navigator.mediaDevices === undefined) throw new Error('no media devices');
    // A reed held for seconds is noise to a telephone: its helpers would take it away.
    const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };
    const stream = await navigator.mediaDevices.getUserMedia({ audio });
    try {
      // A data address and not a blob: Chromium refuses a blob's worklet for a page from disk.
      await this.context.audioWorklet.addModule(`data:text/javascript;base64,${btoa(workletText)}`);
      const node = new AudioWorkletNode(this.context, 'reedmill-listener', { numberOfOutputs: 0, processorOptions: this.bounds });
      node.port.onmessage = ({ data }) => {
        if (data.reading === undefined) this.onSound(data.sound, data.at_s);
        else if (this.on) this.onReading(data.reading, data.at_s); // none that was under way when it was stopped
      };
      this.source = this.context.createMediaStreamSource(stream);
      this.source.connect(node);
      this.stream = stream;
      this.node = node;
      for (const track of stream.getTracks()) track.addEventListener('ended', () => this.#lost(node));
    } catch (error) {
      stream.getTracks().forEach((track) => track.stop());
      throw error;
    }
  }

  /** Hand on every sample from now on, or stop that. @param {boolean} on */
  record(on) {
    this.node?.port.postMessage(on ? 'record' : 'rest');
  }

  /** @param {AudioWorkletNode} node */
  #lost(node) {
    if (this.node !== node) return;
    this.stop();
    this.onLost();
  }

  stop() {
    this.stream?.getTracks().forEach((track) => track.stop());
    this.source?.disconnect();
    this.node?.port.postMessage('end'); // or it would go on reading silence as long as the page is open
    this.source = null;
    this.stream = null;
    this.node = null;
  }
}
