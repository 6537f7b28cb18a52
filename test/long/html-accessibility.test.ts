import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeFaults, openReportPages, type ReportPages } from '../support/report-pages.js';

let pages: ReportPages;
beforeAll(async () => {
  pages = await openReportPages();
});
afterAll(() => pages?.close());

describe('the HTML report has no fault that axe-core knows', () => {
  for (const colorScheme of ['light', 'dark'] as const)
    for (const name of ['fit', 'refused', 'overloaded', 'open', 'hostile', 'summary'])
      it(`${name}, ${colorScheme}, narrow and wide`, async () => {
        const context = await pages.browser.newContext({ colorScheme, bypassCSP: true });
        expect(await axeFaults(await context.newPage(), pages.urls[name]!, [320, 1280])).toEqual([]);
        await context.close();
      });
});
