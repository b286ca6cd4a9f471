// Sorting and filtering of the ranking. Without this script the table stands in its groups.
(() => {
  const table = document.querySelector("table.ranking");
  if (!table) return;
  const groups = [...table.tBodies];
  const home = groups.map(body => [...body.rows]);
  const rows = home.flat().filter(row => !row.classList.contains("group"));
  const heads = [...table.tHead.rows[0].cells];

  const tools = document.createElement("div");
  tools.className = "tools";
  const label = document.createElement("label");
  label.append("Show only cards with");
  const field = document.createElement("input");
  field.type = "search";
  field.placeholder = "tag, product or verdict";
  label.append(field);
  const reset = document.createElement("button");
  reset.type = "button";
  reset.textContent = "Groups as ranked";
  reset.hidden = true;
  const said = document.createElement("output");
  said.setAttribute("aria-live", "polite");
  tools.append(label, reset, said);
  table.parentElement.before(tools);

  const value = (row, column) => {
    const cell = row.cells[column];
    if (heads[column].dataset.sort === "text") return cell.textContent;
    const figure = cell.dataset.v ?? cell.querySelector("b")?.textContent;
    return figure === undefined || figure === "–" ? NaN : Number(figure);
  };
  const clear = () => heads.forEach(head => head.removeAttribute("aria-sort"));

  reset.addEventListener("click", () => {
    clear();
    groups.forEach((body, i) => body.append(...home[i]));
    reset.hidden = true;
    said.textContent = "Back in groups.";
  });

  heads.forEach((head, column) => {
    // Not a button element: browsers leave those out of the heading they repeat on every printed page.
    const button = document.createElement("span");
    button.setAttribute("role", "button");
    button.tabIndex = 0;
    button.append(...head.childNodes);
    const scale = button.querySelector("svg");
    head.append(button);
    if (scale) head.append(scale);
    button.addEventListener("keydown", event => {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      button.click();
    });
    button.addEventListener("click", () => {
      const text = head.dataset.sort === "text" || head.classList.contains("rank");
      const was = head.getAttribute("aria-sort");
      const rising = was ? was === "descending" : text;
      clear();
      head.setAttribute("aria-sort", rising ? "ascending" : "descending");
      const sorted = [...rows].sort((a, b) => {
        const x = value(a, column), y = value(b, column);
        if (typeof x === "string") return (rising ? 1 : -1) * x.localeCompare(y);
        if (isNaN(x) || isNaN(y)) return isNaN(x) - isNaN(y);
        return rising ? x - y : y - x;
      });
      groups.forEach(body => body.replaceChildren());
      groups[0].append(...sorted);
      reset.hidden = false;
      said.textContent = "Sorted by one figure alone; this is not the ranking.";
    });
  });

  field.addEventListener("input", () => {
    const wanted = field.value.trim().toLowerCase();
    let shown = 0;
    rows.forEach(row => {
      const hit = row.cells[1].textContent.toLowerCase().includes(wanted);
      row.hidden = !hit;
      shown += hit;
    });
    groups.forEach((body, i) => {
      const head = home[i][0];
      head.hidden = !home[i].some(row => row !== head && !row.hidden);
    });
    said.textContent = wanted ? shown + " of " + rows.length + " cards" : "";
  });
})();
