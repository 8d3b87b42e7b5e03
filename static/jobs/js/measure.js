// A measured value read and held against its limits without signal; jobs/running/measuring.py says the same on the server.
const LEAST_VOLTS = 5;
const MOST_VOLTS = 32;

const plain = (value) => String(value);

function supply(value) {
  if (value < 0) return { doubt: "The leads are crossed. Measure again." };
  if (value <= MOST_VOLTS) return { value };
  for (const power of [10, 100, 1000]) {
    const meant = value / power;
    if (meant >= LEAST_VOLTS && meant <= MOST_VOLTS) {
      return { doubt: `${plain(value)} V is no vehicle's supply. Is ${meant.toFixed(2)} V meant? Type it with its point.` };
    }
  }
  return { doubt: `${plain(value)} V is no vehicle's supply. Measure again.` };
}

// {value} or {doubt: words that ask back}. Limits: {unit, low, high, isSupply, hardLow, hardHigh}.
export function readMeasured(text, limits) {
  let typed = text.trim();
  if (limits.unit && typed.toLowerCase().endsWith(limits.unit.toLowerCase())) {
    typed = typed.slice(0, -limits.unit.length).trim();
  }
  if (!typed) return { doubt: "Type what you measured." };
  if (!/^-?\d{1,6}([.,]\d{1,3})?$/.test(typed)) {
    return { doubt: `${text.trim().slice(0, 20)} is no figure. Type it like 12.6.` };
  }
  const value = Number(typed.replace(",", "."));
  if (limits.isSupply) return supply(value);
  if (/,\d{3}$/.test(typed)) {
    return { doubt: `Is ${plain(value)} or ${typed.replace(",", "")} ${limits.unit} meant? Type it with a point.` };
  }
  return { value };
}

export function fault(value, limits) {
  if (limits.low !== null && value < limits.low) return `${plain(value)} ${limits.unit}, below ${plain(limits.low)} ${limits.unit}`;
  if (limits.high !== null && value > limits.high) return `${plain(value)} ${limits.unit}, above ${plain(limits.high)} ${limits.unit}`;
  return "";
}

export const isHard = (value, limits) =>
  (limits.hardLow !== null && value < limits.hardLow) || (limits.hardHigh !== null && value > limits.hardHigh);
