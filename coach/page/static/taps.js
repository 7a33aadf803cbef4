// Taps: when a key or a finger went down, by the event's own time.

/**
 * Call `tapped(at_ms)` with the time on `performance.now()`'s clock for the space bar anywhere on
 * the page (but on another control), and for a finger, a mouse or Enter on the `surface`. The event's own
 * time is taken, not that of its handling: a busy page handles it late.
 *
 * Returns a function that ends it.
 */
export function listen(surface, button, tapped) {
  const key = (event) => {
    if (event.code !== "Space" || event.ctrlKey || event.altKey || event.metaKey) return;
    const control = event.target.closest?.("button, input, select, textarea, a, summary");
    if (control && control !== button) return;
    event.preventDefault(); // no scrolling, and no click of the button on top
    if (!event.repeat) tapped(event.timeStamp);
  };
  const keyUp = (event) => {
    if (event.code === "Space" && event.target === button) event.preventDefault();
  };
  const finger = (event) => {
    if (event.isPrimary && event.button === 0) tapped(event.timeStamp);
  };
  const click = (event) => {
    // One without a finger or a mouse: Enter, a screen reader, or a switch.
    if (event.detail === 0 && !event.pointerType) tapped(event.timeStamp);
  };
  document.addEventListener("keydown", key);
  document.addEventListener("keyup", keyUp);
  surface.addEventListener("pointerdown", finger);
  button.addEventListener("click", click);
  return () => {
    document.removeEventListener("keydown", key);
    document.removeEventListener("keyup", keyUp);
    surface.removeEventListener("pointerdown", finger);
    button.removeEventListener("click", click);
  };
}
