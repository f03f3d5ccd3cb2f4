/** Files that the page makes, handed to the browser's downloads. */

const KEPT_MS = 10_000;

/** @param {string} name @param {string} type  of media @param {BlobPart} content */
export function download(name, type, content) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([content], { type }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), KEPT_MS);
}
