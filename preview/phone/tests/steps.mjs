// What a person does on the page, step by step.

/** Opens the page on a shop without a hub, from the file of its sheet. */
export async function begin_with_sheet(page, address, sheet) {
  await page.goto(address);
  await page.getByRole("heading", { name: /What to clean|Qué limpiar/ }).waitFor();
  await page.locator("input[type=file]").setInputFiles(sheet);
  await page.getByRole("heading", { name: /What did you run|Qué has usado/ }).waitFor();
}

/** Picks machines by name, with the first stock, and an hour until leaving. */
export async function pick(page, machines) {
  for (const [i, machine] of machines.entries()) {
    if (i > 0) await page.getByRole("button", { name: /Another machine|Otra máquina/ }).click();
    await page.locator(".pick-list .row-button", { hasText: machine }).first().click();
  }
  await page.getByRole("button", { name: /in 60 min|en 60 min/ }).click();
  // The list of a moment ago may still stand there, without a time.
  await page.locator(".tools-down-time", { hasText: /^\d\d:\d\d$/ }).waitFor();
}

export async function tools_down(page) {
  await page.getByRole("button", { name: /Tools are down|Herramientas paradas/ }).click();
  await page.locator(".progress-line").waitFor();
}

/** How many entries the page says are saved here, and not at a hub. */
export async function chip(page) {
  return (await page.locator(".saving-chip").innerText()).trim();
}

export async function history(page, address) {
  await page.goto(`${address}/#/phone`);
  await page.locator(".history li").first().waitFor();
  return page.locator(".history li").allInnerTexts();
}
