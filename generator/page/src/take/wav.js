/** A take as a WAV file: one channel, 16 bits (Microsoft and IBM, "Multimedia Programming Interface", 1991). */

const HEAD = 44;

/** @param {Float32Array} sound  -1 to 1; what is louder is cut off @param {number} rate  samples a second @returns {ArrayBuffer} */
export function wavOf(sound, rate) {
  const bytes = new DataView(new ArrayBuffer(HEAD + 2 * sound.length));
  const write = (/** @type {number} */ at, /** @type {string} */ text) => [...text].forEach((letter, n) => bytes.setUint8(at + n, letter.charCodeAt(0)));
  write(0, 'RIFF');
  bytes.setUint32(4, HEAD - 8 + 2 * sound.length, true);
  write(8, 'WAVEfmt ');
  bytes.setUint32(16, 16, true); // of what follows of the format
  bytes.setUint16(20, 1, true); // PCM
  bytes.setUint16(22, 1, true); // channels
  bytes.setUint32(24, rate, true);
  bytes.setUint32(28, 2 * rate, true); // bytes a second
  bytes.setUint16(32, 2, true); // bytes of one sample of all channels
  bytes.setUint16(34, 16, true); // bits
  write(36, 'data');
  bytes.setUint32(40, 2 * sound.length, true);
  sound.forEach((each, n) => bytes.setInt16(HEAD + 2 * n, Math.round(32767 * Math.max(-1, Math.min(1, each))), true));
  return bytes.buffer;
}
