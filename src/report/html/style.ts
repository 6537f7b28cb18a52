/**
 * Everything that the page looks like. Colours never speak alone: words, signs and outlines say the same. What is
 * folded is opened on paper where the browser knows how, but for what only some readers want.
 */
export const styleText = `
:root {
  color-scheme: light dark;
  --paper: #f4f1ea; --sheet: #fffdf9; --ink: #28231b; --soft: #5f574a; --line: #d8cfbf; --link: #1f5480;
  --fit: #1c5b42; --fit-ground: #e0eee4; --refused: #8f2519; --refused-ground: #f9e4de;
  --not-proven: #6b4a06; --not-proven-ground: #f7ebcd;
  --c-table: #c9bfae; --c-unused: #e9e3d7; --c-other: #b9b2a5; --c-boot: #d9a566; --c-fat: #b79ac9;
  --c-root: #86b5a5; --c-file: #2b5f8e; --c-data: #dce4e8; --c-unknown: #f0d78c; --c-beyond: #d98a7c; --on-file: #ffffff;
  --on-box: #28231b;
}
@media (prefers-color-scheme: dark) {
  :root {
    --paper: #171512; --sheet: #211e1a; --ink: #ece6da; --soft: #b7ad9b; --line: #453f35; --link: #9cc7ec;
    --fit: #98d6b5; --fit-ground: #1a3126; --refused: #f4a898; --refused-ground: #3f1f19;
    --not-proven: #ebc983; --not-proven-ground: #372b12;
    --c-table: #5d5547; --c-unused: #2f2b25; --c-other: #4d483f; --c-boot: #7d5a2b; --c-fat: #65507a;
    --c-root: #33685a; --c-file: #93c3ee; --c-data: #33414a; --c-unknown: #6d5716; --c-beyond: #8a3a2d; --on-file: #14212c;
    --on-box: #f2ece1;
  }
}
* { box-sizing: border-box; }
html { background: var(--paper); color: var(--ink); font: 1.0625rem/1.55 "Segoe UI", Cantarell, "Noto Sans", "Helvetica Neue", Arial, sans-serif; -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body { margin: 0 auto; max-width: 76rem; padding: 0 clamp(1rem, 4vw, 3rem); overflow-wrap: anywhere; }
h1, h2, h3, h4, h5, h6 { line-height: 1.25; margin: 0; font-weight: 650; text-wrap: balance; }
p, ul, ol, dl, dd, figure { margin: 0; }
a { color: var(--link); text-underline-offset: .15em; }
code, pre { font-family: ui-monospace, "Cascadia Mono", Consolas, "Liberation Mono", monospace; font-size: .9em; }
:focus-visible { outline: 3px solid var(--link); outline-offset: 3px; border-radius: 3px; }
.skip { position: absolute; left: 1rem; top: -6rem; background: var(--sheet); padding: .6rem 1rem; border: 2px solid var(--link); }
.skip:focus { top: .5rem; z-index: 1; }
header { padding: 1.1rem 0 .9rem; color: var(--soft); }
header strong { color: var(--ink); letter-spacing: .02em; }
footer { border-top: 1px solid var(--line); margin-top: 3rem; padding: 1rem 0 2.5rem; color: var(--soft); font-size: .9rem; }
.soft, .note { color: var(--soft); font-size: .92em; }

.verdict { --v: var(--not-proven); display: grid; grid-template-columns: auto minmax(0, 1fr); gap: clamp(1rem, 3vw, 2rem); align-items: center; background: var(--v-ground); color: var(--ink); border-left: .5rem solid var(--v); border-radius: 4px 1.6rem 4px 4px; padding: clamp(1.1rem, 3vw, 2rem); }
.v-fit { --v: var(--fit); --v-ground: var(--fit-ground); }
.v-refused { --v: var(--refused); --v-ground: var(--refused-ground); }
.v-not-proven { --v: var(--not-proven); --v-ground: var(--not-proven-ground); }
.verdict > div { display: grid; gap: .5rem; }
.verdict .word { display: block; color: var(--v); font-size: 1.05rem; font-weight: 750; letter-spacing: .09em; }
.verdict :is(h1, h3) { font-size: clamp(1.55rem, 1.1rem + 2vw, 2.5rem); }
.verdict .word:only-child { font-size: 1em; letter-spacing: .03em; }
.verdict p { max-width: 44rem; }
.icon { display: block; width: auto; }
.icon-large { height: clamp(4.5rem, 11vw, 7.5rem); color: var(--v); }
.icon-small { display: inline-block; height: 1.35em; vertical-align: -.3em; }
.icon-card { fill: var(--sheet); stroke: currentColor; stroke-width: 3; }
.icon-contacts { fill: none; stroke: currentColor; stroke-width: 3; opacity: .55; }
.icon-mark { fill: none; stroke: currentColor; stroke-width: 6.5; stroke-linecap: round; stroke-linejoin: round; }

.columns { display: grid; gap: 2.2rem; margin-top: 1.8rem; }
.sections, section, article, .checked, .verdict + section { display: grid; gap: .8rem; align-content: start; min-width: 0; }
.sections { gap: 2.6rem; }
main > section { margin-top: 2.2rem; }
.sections > section > :is(h2, h4), main > section > h2 { font-size: 1.4rem; }
.sections p, .sections li, .sections dd { max-width: 48rem; }
.checked { font-size: .95rem; }
.checked > :is(h2, h4) { font-size: 1.05rem; color: var(--soft); }
.checked dl { display: grid; gap: .8rem 1.6rem; grid-template-columns: repeat(auto-fit, minmax(min(100%, 13rem), 1fr)); border-top: 1px solid var(--line); padding-top: .8rem; }
.checked dt { color: var(--soft); font-size: .88rem; }
.checked ul { padding-left: 1.1rem; }
@media (min-width: 68rem) {
  .columns { grid-template-columns: minmax(0, 1fr) 17rem; gap: 3.5rem; }
  .checked { grid-column: 2; }
  .checked dl { grid-template-columns: minmax(0, 1fr); }
  .sections { grid-column: 1; grid-row: 1; }
}

ul, ol { padding-left: 1.5rem; }
li + li { margin-top: .35rem; }
.next { font-size: 1.1rem; padding-left: 1.8rem; }
.next li::marker { font-weight: 700; color: var(--soft); }
.provisos { background: var(--sheet); border: 1px solid var(--line); border-radius: 4px 1rem 4px 4px; padding: 1rem 1.2rem; }

.fault { background: var(--sheet); border: 1px solid var(--line); border-radius: 4px 1rem 4px 4px; padding: clamp(1rem, 2.5vw, 1.6rem); scroll-margin-top: 1rem; }
.fault + .fault { margin-top: .6rem; }
.fault > :first-child { display: grid; grid-template-columns: auto minmax(0, 1fr); gap: .7rem; align-items: start; font-size: 1.2rem; }
.number { display: inline-grid; place-items: center; min-width: 1.75em; height: 1.75em; padding: 0 .3em; margin-top: -.2em; border-radius: .3em; background: var(--refused); color: var(--sheet); font-size: .85em; }
.fault > :is(h4, h6), .fault > h5:not(:first-child) { font-size: 1rem; margin-top: .4rem; }
.risk { border-left: 3px solid var(--refused); padding-left: .8rem; }
.measured { display: grid; gap: .8rem; grid-template-columns: repeat(auto-fit, minmax(min(100%, 15rem), 1fr)); }
.measured > div { border: 1px solid var(--line); border-radius: 4px; padding: .6rem .9rem .7rem; }
.measured dt { font-size: .85rem; font-weight: 650; color: var(--soft); }
.measured .found dt { color: var(--refused); }
.measured .needed dt { color: var(--fit); }
.measured .found { border-top: 3px solid var(--refused); }
.measured .needed { border-top: 3px solid var(--fit); }
.measured .where { border: 0; padding: 0 .1rem; grid-column: 1 / -1; display: flex; flex-wrap: wrap; gap: 0 .6rem; font-size: .92em; color: var(--soft); }
.measured .where dt { font-size: 1em; }
.offenders { font-size: .95em; margin-top: .3rem; padding-left: 1.2rem; }

details { min-width: 0; }
summary { cursor: pointer; padding: .45rem 0; color: var(--link); }
summary:hover { text-decoration: underline; text-underline-offset: .15em; }
details[open] > summary { margin-bottom: .3rem; }
details > :not(summary) { margin-bottom: .7rem; }
.ways { border-top: 1px solid var(--line); }
.ways details { border-bottom: 1px solid var(--line); }
.ways summary { color: var(--ink); padding: .6rem 0; }
.way-name { font-weight: 650; color: var(--link); }
.way-rights { color: var(--soft); font-size: .92em; }
.way-erases { color: var(--refused); font-size: .92em; font-weight: 650; }
.way-rights::before, .way-erases::before { content: "\\00b7"; margin: 0 .35em; color: var(--soft); }
.steps { display: grid; gap: .35rem; margin-top: .4rem; }
.steps li + li { margin-top: 0; }
.erases { border: 2px solid var(--refused); background: var(--refused-ground); border-radius: 4px; padding: .5rem .8rem; }
pre { margin: .35rem 0; padding: .6rem .8rem; background: var(--paper); border: 1px solid var(--line); border-radius: 4px; white-space: pre-wrap; }
pre code { display: block; font-size: 1em; padding-left: 1.5em; text-indent: -1.5em; }

.open { border-left: 4px solid var(--not-proven); padding-left: 1rem; }
.open + .open { margin-top: .6rem; }
.brief code, .open code { color: var(--soft); }
.deep { border-bottom: 1px solid var(--line); }
.deep > ul { columns: 22rem; column-gap: 2.5rem; font-size: .95em; }
.deep li { break-inside: avoid; }

.picture { background: var(--sheet); border: 1px solid var(--line); border-radius: 4px; padding: 1rem; display: grid; gap: .9rem; }
.drawing { display: block; overflow: visible; }
.drawing text { font: 700 14px ui-monospace, Consolas, "Liberation Mono", monospace; fill: var(--on-box); }
.box rect { stroke: var(--sheet); stroke-width: 1.5; fill: var(--k); }
.volume { fill: var(--soft); }
.pin rect, .pin path { fill: var(--refused); }
.pin text { fill: var(--sheet); font-size: 13px; }
figcaption { color: var(--soft); font-size: .92em; }
.legend { list-style: none; padding: 0; display: grid; gap: .4rem 1.6rem; font-size: .92rem; grid-template-columns: repeat(auto-fit, minmax(min(100%, 20rem), 1fr)); }
.legend li { display: grid; grid-template-columns: auto minmax(0, 1fr); gap: .6rem; margin: 0; }
.swatch { align-self: start; min-width: 1.9em; text-align: center; padding: 0 .3em; border-radius: 3px; font: 700 .9em/1.6 ui-monospace, Consolas, "Liberation Mono", monospace; background: var(--k); color: var(--on-box); }
.k-partition-table, .k-flash { --k: var(--c-table); } .k-unused { --k: var(--c-unused); } .k-other-partition { --k: var(--c-other); }
.k-boot, .k-loader { --k: var(--c-boot); } .k-fat, .k-settings { --k: var(--c-fat); } .k-root-folder { --k: var(--c-root); }
.k-data, .k-application { --k: var(--c-data); } .k-unknown { --k: var(--c-unknown); } .k-beyond-end { --k: var(--c-beyond); }
.k-update-file, .k-program { --k: var(--c-file); } .k-program-bad { --k: var(--refused); }
.k-volume { --k: transparent; color: var(--soft); border-bottom: 4px solid var(--soft); border-radius: 0; }
.k-pin { --k: var(--refused); }
.k-update-file text, .k-program text { fill: var(--on-file); } .swatch.k-update-file, .swatch.k-program { color: var(--on-file); }
.k-program-bad text { fill: var(--sheet); } .swatch.k-program-bad, .swatch.k-pin { color: var(--sheet); }
.k-beyond-end rect, .k-unknown rect { stroke: var(--ink); stroke-dasharray: 4 3; }

.bars { list-style: none; padding: 0; display: grid; gap: 1rem; }
.bars li { margin: 0; display: grid; gap: .3rem; }
.bar { display: block; }
.bar-ground { fill: var(--c-unused); } .bar-supply { fill: var(--c-root); } .bar-load { fill: var(--c-file); } .bar-over { fill: var(--refused); }
.bar-limit { fill: var(--ink); }
.power { display: grid; gap: .9rem; }

table { border-collapse: collapse; width: 100%; font-size: .95rem; }
th, td { text-align: left; vertical-align: top; padding: .45rem .8rem .45rem 0; border-bottom: 1px solid var(--line); }
thead th { color: var(--soft); font-weight: 600; font-size: .88rem; }
tbody th { font-weight: 600; }
.state { min-width: 9.5rem; font-weight: 650; }
.s-fit { color: var(--fit); } .s-refused { color: var(--refused); } .s-not-proven { color: var(--not-proven); }
.report { background: var(--sheet); border: 1px solid var(--line); border-radius: 4px; padding: .3rem 1rem; }
.report[open] { padding-bottom: 1.5rem; }
.report > summary { color: var(--ink); }
.report .fault, .report .picture, .report .provisos { background: var(--paper); }
.report .verdict :is(h1, h3) { font-size: 1.5rem; }
@media (max-width: 48rem) { .box .small { display: none; } }
@media (max-width: 34rem) {
  .verdict { grid-template-columns: minmax(0, 1fr); }
  .cards, .cards :is(tbody, tr, th, td) { display: block; }
  .cards thead { position: absolute; clip-path: inset(50%); }
  .cards :is(th, td) { border: 0; padding: .1rem 0; }
  .cards tr { border-bottom: 1px solid var(--line); padding: .6rem 0; }
}
@media (prefers-reduced-motion: no-preference) { html { scroll-behavior: smooth; } }
@media (forced-colors: active) {
  .box rect { stroke: CanvasText; } .verdict, .number, .swatch { border: 2px solid CanvasText; }
  .icon-mark, .icon-card, .icon-contacts { stroke: CanvasText; } .drawing text { fill: CanvasText; } .box rect, .icon-card, .pin :is(rect, path) { fill: Canvas; }
}
@media print {
  :root { color-scheme: light; --paper: #ffffff; --sheet: #ffffff; --ink: #000000; --soft: #444444; --line: #999999; --link: #000000; --fit: #12442f; --refused: #7a1c10; --not-proven: #54390a; --fit-ground: #ffffff; --refused-ground: #ffffff; --not-proven-ground: #ffffff; --c-table: #cccccc; --c-unused: #f2f2f2; --c-other: #bbbbbb; --c-boot: #e0b98a; --c-fat: #c9b4d6; --c-root: #a5c9bd; --c-file: #2b5f8e; --c-data: #e6ebee; --c-unknown: #f3e2ac; --c-beyond: #e3a79c; --on-file: #ffffff; --on-box: #000000; }
  html { font-size: 10.5pt; }
  body { max-width: none; padding: 0; }
  .skip, .deep { display: none; }
  .columns { display: block; }
  .columns > * + * { margin-top: 1.2rem; }
  .sections { gap: 1.4rem; }
  .verdict { border: 2px solid var(--v); border-left-width: .5rem; }
  .icon-large { height: 4.5rem; }
  .box rect, .bar rect, .swatch, .number, .pin rect { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  .verdict, .picture, .open, pre, li, tr { break-inside: avoid; }
  .report { break-before: page; border: 0; padding: 0; }
  h1, h2, h3, h4, h5, h6, summary { break-after: avoid; }
  details::details-content { content-visibility: visible; block-size: auto; }
  summary { list-style: none; color: var(--ink); font-weight: 650; }
}
`;

/** Of the style, for the policy of the page; a test compares it and says the new one. */
export const styleHash = 'sha256-Sc5e2GhZttGI/xggw+85BKJh/Wh6WNI/f06VsKnJygg=';
