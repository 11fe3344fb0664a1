/** The page's style: one column of prose, figures two abreast where there is room, white paper in print. */
export const STYLE = `
:root { color-scheme: light; --ink: #1a1a1a; --soft: #555; --line: #d9d9d9; --ground: #f6f6f4; --mark: #0072b2; }
* { box-sizing: border-box; }
[hidden] { display: none !important; }
body { margin: 0; background: #fff; color: var(--ink); font: 16px/1.5 system-ui, "Segoe UI", "DejaVu Sans", sans-serif; }
main, header, nav, footer { max-width: 1180px; margin: 0 auto; padding: 0 20px; }
header { padding-top: 28px; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 4px; overflow-wrap: anywhere; }
h2 { font-size: 1.35rem; margin: 0 0 6px; padding-top: 14px; border-top: 2px solid var(--ink); }
h3 { font-size: 1.05rem; margin: 18px 0 6px; overflow-wrap: anywhere; }
section { margin: 34px 0 0; }
p { margin: 6px 0 10px; max-width: 76ch; overflow-wrap: anywhere; }
.stamp, .note, .hint, figcaption { color: var(--soft); font-size: .9rem; }
.answer { font-size: 1.28rem; line-height: 1.42; margin: 18px 0 10px; padding-left: 16px; border-left: 6px solid var(--mark); max-width: 66ch; }
.scene-answer { border-left: 4px solid var(--mark); padding-left: 12px; }
.caution { border: 2px solid #b35900; background: #fff6ea; padding: 10px 16px; margin: 16px 0; }
.caution h2 { border: 0; padding: 0; font-size: 1.05rem; color: #8a4400; }
.caution ul { margin: 4px 0; padding-left: 20px; }
.warn { border-left: 4px solid #b35900; padding-left: 12px; }
nav ul { list-style: none; padding: 0; margin: 14px 0 0; display: flex; flex-wrap: wrap; gap: 4px 18px; }
a { color: #00568a; }
a:focus-visible, button:focus-visible, select:focus-visible, input:focus-visible, canvas:focus-visible, [tabindex]:focus-visible,
summary:focus-visible { outline: 3px solid #0072b2; outline-offset: 2px; }
.single, .pair { display: block; }
.pair { display: grid; gap: 10px 28px; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); align-items: start; }
.columns { display: grid; gap: 10px 28px; grid-template-columns: repeat(2, minmax(0, 1fr)); align-items: start; }
.columns-3, .columns-4 { grid-template-columns: repeat(3, minmax(0, 1fr)); }
.columns-4 { grid-template-columns: repeat(2, minmax(0, 1fr)); }
.column { min-width: 0; }
.map-card { margin: 0 0 14px; }
.single .map-card { display: grid; grid-template-columns: minmax(0, 600px) minmax(0, 1fr); gap: 4px 32px; align-items: start; }
.figure { margin: 8px 0; min-width: 0; break-inside: avoid; }
.drawing-box { position: relative; max-width: 600px; }
.wide .drawing-box { max-width: 1000px; }
.summary { display: grid; grid-template-columns: minmax(0, 1fr) max-content; gap: 0 44px; align-items: start; }
.summary .key { padding-top: 12px; }
.drawing { display: block; width: 100%; max-width: 600px; height: auto; }
.wide .drawing { max-width: 1000px; }
.drawing text { font-family: "DejaVu Sans", Verdana, "Segoe UI", sans-serif; }
.scrolls { overflow-x: auto; }
.scrolls .drawing { min-width: 620px; }
.reader { position: absolute; inset: 0; width: 100%; height: 100%; touch-action: pan-y; }
.table-box { overflow-x: auto; margin: 8px 0 14px; max-width: 100%; }
table { border-collapse: collapse; font-size: .92rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: 600; padding: 4px 0; }
th, td { padding: 3px 14px 3px 0; text-align: left; vertical-align: top; border-bottom: 1px solid var(--line); overflow-wrap: break-word; }
td { white-space: nowrap; }
td.prose { white-space: normal; }
tbody th { font-weight: 400; min-width: 7.5em; max-width: 26em; }
thead th { white-space: nowrap; }
.key td, #inputs td { white-space: normal; overflow-wrap: anywhere; }
.pair { grid-template-columns: minmax(0, 1fr) max-content; }
details { margin: 4px 0 10px; }
summary { cursor: pointer; color: #00568a; }
.sheet { display: flex; flex-wrap: wrap; gap: 12px 16px; }
.tile { margin: 0; width: 142px; break-inside: avoid; }
.tile img { width: 118px; height: 118px; object-fit: contain; background: #000; image-rendering: pixelated; display: block; }
.tile figcaption { font-size: .78rem; line-height: 1.3; display: flex; flex-direction: column; overflow-wrap: anywhere; }
.tools { background: var(--ground); padding: 12px 16px; margin-top: 8px; font-size: .94rem; }
.tools .readout { font-weight: 600; min-height: 3.1em; margin: 0 0 8px; }
fieldset { border: 1px solid var(--line); margin: 0 0 8px; padding: 6px 10px 8px; min-width: 0; }
legend { font-weight: 600; padding: 0 6px; }
.field { display: inline-block; margin: 3px 12px 3px 0; }
input[type=number] { width: 6.2em; font: inherit; padding: 2px 4px; }
select, button { font: inherit; padding: 3px 10px; max-width: 100%; }
button { background: #fff; border: 1px solid #777; border-radius: 3px; cursor: pointer; }
button:hover { background: #e9f2f8; }
button[aria-pressed=true] { background: #d5e8f3; border-color: #00568a; }
.result { display: grid; grid-template-columns: max-content 1fr; gap: 2px 14px; margin: 8px 0; }
.result dt { color: var(--soft); }
.result dd { margin: 0; font-weight: 600; font-variant-numeric: tabular-nums; }
.space { display: grid; grid-template-columns: minmax(0, 1fr) 290px; gap: 18px; align-items: start; }
.stage { position: relative; min-width: 0; }
.stage canvas { display: block; width: 100%; height: 520px; background: #eef2f4; border: 1px solid var(--line); touch-action: none; cursor: grab; }
.tip { position: absolute; left: 10px; bottom: 10px; max-width: calc(100% - 20px); background: rgba(255,255,255,.94); border: 1px solid #999; padding: 4px 10px; font-size: .88rem; pointer-events: none; overflow-wrap: anywhere; }
.controls { font-size: .92rem; min-width: 0; }
.controls label { display: block; margin: 2px 0; }
.controls .sample { vertical-align: middle; margin-right: 6px; }
.views { display: flex; flex-wrap: wrap; gap: 6px; }
.live .still { display: none; }
.source { background: var(--ground); padding: 12px 16px; overflow: auto; max-height: 480px; font: .84rem/1.45 ui-monospace, "DejaVu Sans Mono", monospace; white-space: pre-wrap; overflow-wrap: anywhere; margin: 6px 0; }
.methods li { margin: 4px 0; max-width: 84ch; }
footer { margin-top: 40px; padding-bottom: 40px; color: var(--soft); font-size: .85rem; }
@media (max-width: 900px) {
  .summary, .pair, .columns, .columns-3, .columns-4, .space, .single .map-card { grid-template-columns: minmax(0, 1fr); }
  .stage canvas { height: 380px; }
}
@media (max-width: 520px) {
  main, header, nav, footer { padding-left: 14px; padding-right: 14px; }
  h1 { font-size: 1.45rem; }
  .answer { font-size: 1.1rem; padding-left: 12px; }
  th, td { padding-right: 12px; }
  tbody th { min-width: 6em; }
}
@page { size: A4; margin: 14mm 13mm; }
@media print {
  body { font-size: 10pt; }
  main, header, nav, footer { max-width: none; padding: 0; }
  nav, .tools, .chooser, .reader, .controls, .stage canvas, .tip, details, .file { display: none !important; }
  .live .still { display: block; }
  .space, .pair, .single .map-card { display: block; }
  .columns, .columns-3, .columns-4 { grid-template-columns: repeat(2, minmax(0, 1fr)); gap: 4mm; }
  .scrolls { overflow: visible; }
  .scrolls .drawing { min-width: 0; width: 100%; }
  .table-box { overflow: visible; break-inside: avoid; }
  .table-box.long { break-inside: auto; }
  .source { max-height: none; overflow: visible; font-size: 7.5pt; background: none; border: 1px solid var(--line); }
  h2, h3, .note { break-after: avoid; break-inside: avoid; }
  #maps { break-before: page; }
  .summary { grid-template-columns: minmax(0, 1fr) max-content; gap: 0 7mm; }
  table { font-size: 8.5pt; }
  th, td { padding: .6mm 3mm .6mm 0; }
  .key td, .key th { white-space: nowrap; }
  .table-box.many td { white-space: normal; }
  .answer { font-size: 13pt; }
  .figure, .tile, .caution, .answer { break-inside: avoid; }
  .single .figure, .pair .figure { max-width: 128mm; }
  thead th { white-space: normal; }
  .pair > .table-box { break-before: auto; }
  .drawing { max-height: 235mm; }
  section { margin-top: 8mm; }
}
`;
