// Numbers that the thumb sets, written as the report writes them (report/words.py).

/** A drive's value with its sign; 0 has none. */
export function signed(value, digits = 2) {
  const rounded = Number(value.toFixed(digits)) + 0;
  const text = String(Math.abs(rounded));
  return rounded === 0 ? "0" : `${rounded < 0 ? "−" : "+"}${text}`;
}

/** All drives at one setting. */
export function settingText(drives, setting) {
  return drives.map((drive, k) => `${drive.name} ${signed(setting[k])}${drive.sign}`).join(", ");
}
