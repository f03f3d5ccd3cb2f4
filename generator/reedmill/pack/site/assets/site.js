// One player at a time, the exercises of one harp alone, and long contents folded on a phone.
// Without this the page works too.
document.addEventListener("play", (event) => {
  for (const player of document.querySelectorAll("audio")) {
    if (player !== event.target) player.pause();
  }
}, true);
const harps = document.querySelector(".harps");
if (harps) {
  harps.hidden = false;
  harps.addEventListener("change", (event) => {
    for (const exercise of document.querySelectorAll(".exercise")) {
      const other = event.target.value !== "" && exercise.dataset.harp !== event.target.value;
      exercise.hidden = other;
      if (other) for (const player of exercise.querySelectorAll("audio")) player.pause();
    }
  });
}
const contents = document.querySelector(".contents");
if (contents.querySelectorAll("li").length > 4 && !matchMedia("(min-width: 60rem)").matches) {
  contents.open = false;
}
