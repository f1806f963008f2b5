// Moves through a ledger as through a sheet: one cell is in the tab order, arrows go from cell to cell. In the open
// column a cell is a field: what is typed replaces what stands there, Enter goes down, Escape gives it back as it was.
// (W3C, ARIA Authoring Practices, grid pattern.)

import { enhance } from "./enhance.js";
import { bindKeys } from "./keys.js";

const ROW_PX = 40; // about a row, for going by windows

/** What takes the focus in a cell: its field, or the cell itself. */
const stop = (cell) => cell.querySelector(".open-field, summary") ?? cell;

const rowsOf = (table) => [...table.rows].filter((row) => row.querySelector("td:not(.gear-rule)"));

/** The column in which a cell stands, whatever spans the columns before it. */
function columnOf(cell) {
  let column = 0;
  for (let other = cell.previousElementSibling; other; other = other.previousElementSibling) column += other.colSpan;
  return column;
}

function cellAt(row, column) {
  let at = 0;
  for (const cell of row.cells) {
    if (column < at + cell.colSpan) return cell;
    at += cell.colSpan;
  }
  return row.lastElementChild;
}

/** The next cell up or down; in the open column, the next that is a field. */
function vertical(cell, by) {
  const rows = rowsOf(cell.closest("table"));
  const column = columnOf(cell);
  const isOpen = cell.matches(".open-cell");
  for (let at = rows.indexOf(cell.parentElement) + by; at >= 0 && at < rows.length; at += by) {
    const other = cellAt(rows[at], column);
    if (other?.matches("td") && (!isOpen || other.querySelector(".open-field, .cell-sheet summary"))) return other;
  }
  return null;
}

function horizontal(cell, by) {
  const side = by > 0 ? "nextElementSibling" : "previousElementSibling";
  let other = cell[side];
  while (other && !other.matches("td")) other = other[side];
  return other;
}

function far(cell, rows) {
  let at = cell;
  for (let step = 0; step < Math.abs(rows); step += 1) at = vertical(at, Math.sign(rows)) ?? at;
  return at === cell ? null : at;
}

function goTo(cell) {
  if (!cell) return false;
  const target = stop(cell);
  if (target === cell) cell.tabIndex = -1;
  target.focus({ preventScroll: true });
  target.scrollIntoView({ block: "nearest", inline: "nearest" });
  return true;
}

/** Puts something into a field as if it had been typed there. */
export function putInto(field, value) {
  if (field.matches("select") && ![...field.options].some((option) => option.value === value)) {
    field.add(new Option(value, value));
  }
  field.value = value;
  for (const name of ["input", "change"]) field.dispatchEvent(new Event(name, { bubbles: true }));
}

enhance("[role=grid]", (table, signal) => {
  const first = table.querySelector(".open-cell .open-field") ?? table.querySelector("tbody td:not(.gear-rule)");
  if (first) first.tabIndex = 0;
  const before = new WeakMap(); // a field -> what stood in it when it got the focus

  const entered = ({ target }) => {
    const cell = target.closest("td");
    if (!cell || target !== stop(cell)) return;
    for (const other of table.querySelectorAll("td[tabindex='0'], .open-field[tabindex='0']")) other.tabIndex = -1;
    target.tabIndex = 0;
    if (!target.matches(".open-field")) return;
    before.set(target, target.value);
    if (target.matches("input")) target.select();
  };
  table.addEventListener("focusin", entered, { signal });

  /** Binds a move; it is left to the browser where `unless` says so. */
  const move = (there, unless = () => false) => ({ target }) => {
    const cell = target.closest("td");
    if (!cell || target !== stop(cell) || unless(target)) return false;
    return goTo(there(cell, rowsOf(table)));
  };
  const isText = (target) => target.matches("textarea");
  const isField = (target) => target.matches(".open-field");
  const isAmidWords = (target) =>
    isText(target) || (target.matches("input") && target.selectionEnd - target.selectionStart < target.value.length);
  const windowful = () => Math.max(1, Math.floor(window.innerHeight / ROW_PX));
  bindKeys(
    {
      "ArrowUp": move((cell) => vertical(cell, -1), isText),
      "ArrowDown": move((cell) => vertical(cell, 1), isText),
      "Enter": move((cell) => vertical(cell, 1), (target) => !isField(target) || isText(target)),
      "Shift+Enter": move((cell) => vertical(cell, -1), (target) => !isField(target) || isText(target)),
      "ArrowLeft": move((cell) => horizontal(cell, -1), isAmidWords),
      "ArrowRight": move((cell) => horizontal(cell, 1), isAmidWords),
      "PageUp": move((cell) => far(cell, -windowful()), isText),
      "PageDown": move((cell) => far(cell, windowful()), isText),
      "Home": move((cell) => cell.parentElement.querySelector("td"), isField),
      "End": move((cell) => cell.parentElement.lastElementChild, isField),
      "Ctrl+Home": move((cell, rows) => rows[0].querySelector("td"), isField),
      "Ctrl+End": move((cell, rows) => rows.at(-1).lastElementChild, isField),
      "Escape": ({ target }) => {
        if (!before.has(target) || target.value === before.get(target)) return false;
        putInto(target, before.get(target));
        return true;
      },
    },
    { within: table, signal },
  );

  // A column from a spreadsheet fills the cells down.
  const pasted = (event) => {
    let cell = event.target.closest(".open-cell");
    const words = event.clipboardData?.getData("text/plain") ?? "";
    const lines = words.replace(/\r/g, "").replace(/\n$/, "").split("\n");
    if (!cell || lines.length < 2 || isText(event.target)) return;
    event.preventDefault();
    for (const line of lines) {
      const field = cell?.querySelector("input.open-field, select.open-field");
      if (!field) break;
      putInto(field, line.split("\t")[0].trim());
      cell = vertical(cell, 1);
    }
  };
  table.addEventListener("paste", pasted, { signal });
});
