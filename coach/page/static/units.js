// Values as a pilot reads them.

// Minus nothing is nothing.
export const feet = (value) => `${(Math.round(value) || 0).toLocaleString("en-US")} ft`;
export const knots = (value) => `${Math.round(value)} kt`;

/** A heading, always three figures. */
export const heading = (degrees) => String(Math.round(degrees) % 360 || 360).padStart(3, "0");

/** A pitch attitude or a bank: its size, and which way. */
export function tilt(degrees, above, below) {
  const size = Math.abs(Math.round(degrees));
  return size ? `${size}° ${degrees > 0 ? above : below}` : "level";
}

/** Seconds as 1:05. */
export function clock(seconds) {
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** How well a browser's clock is known. */
export const milliseconds = (uncertainty_ms) => Math.max(1, Math.round(uncertainty_ms));

/** A day and a time of day, as this browser writes them. */
export const date = (started) => new Date(started).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
