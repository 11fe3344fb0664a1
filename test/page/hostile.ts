/** Names that would run, load, draw or leave their place wherever they were taken for anything but text. */

/** Each marks what it ran with in `window.ran`, or asks for a load that the test would see. */
const PAYLOADS: readonly string[] = [
  '<script>window.ran=1</script>',
  '</script><script>window.ran=1</script>',
  '</ScRiPt ><script>window.ran=1</script>',
  '</style><script>window.ran=1</script>',
  '</title><script>window.ran=1</script>',
  '</textarea><script>window.ran=1</script>',
  '--><script>window.ran=1</script>',
  ']]><script>window.ran=1</script>',
  '<img src=x onerror=window.ran=1>',
  '"><img src=x onerror=window.ran=1>',
  "'><img src=x onerror=window.ran=1>",
  '" onmouseover="window.ran=1" x="',
  "' onfocus='window.ran=1' autofocus='",
  '<svg onload=window.ran=1>',
  '</svg><svg onload=window.ran=1>',
  '</desc></svg><img src=x onerror=window.ran=1>',
  '<a href="javascript:window.ran=1">x</a>',
  'javascript:window.ran=1',
  'data:text/html,<script>window.ran=1</script>',
  '<iframe srcdoc="<script>parent.ran=1</script>">',
  '<object data="data:text/html,<script>parent.ran=1</script>">',
  '<embed src="//example.invalid/x">',
  '<base href="//example.invalid/">',
  '<link rel=stylesheet href="//example.invalid/x.css">',
  '<meta http-equiv=refresh content="0;url=//example.invalid/">',
  '<form action="//example.invalid"><input autofocus onfocus=window.ran=1>',
  '<style>@import "//example.invalid/x.css";</style>',
  '<video src=x onerror=window.ran=1>',
  '<details open ontoggle=window.ran=1>',
  '<body onload=window.ran=1>',
  '<math><mtext></p><img src=x onerror=window.ran=1>',
  '<template><script>window.ran=1</script></template>',
  '&lt;script&gt;window.ran=1&lt;/script&gt;',
  '&#60;img src=x onerror=window.ran=1&#62;',
  '\\u003cscript\\u003ewindow.ran=1\\u003c/script\\u003e',
  `${'$'}{window.ran=1}`,
  '`+(window.ran=1)+`',
  '{{constructor.constructor("window.ran=1")()}}',
  '"};window.ran=1;//',
  "');window.ran=1;//",
  '<!--<script>',
  '__proto__',
  'constructor',
  'toString',
  'url(#x) url(//example.invalid/x)',
  'x);clip-path:url(//example.invalid/x',
  '=HYPERLINK("http://example.invalid","x")',
  "@SUM(1+1)*cmd|' /C calc'!A0",
  '+1+cmd',
  '-2+3',
];

/** @returns `count` different hostile texts, fixed */
export function hostileTexts(count: number): string[] {
  return Array.from({ length: count }, (_, i) => {
    const turn = Math.floor(i / PAYLOADS.length);
    const payload = PAYLOADS[i % PAYLOADS.length];
    if (turn === 0) return payload;
    if (turn === 1) return `dish ${i} ${payload}`;
    if (turn === 2) return `${payload.toUpperCase().replace(/WINDOW\.RAN/g, 'window.ran')} ${i}`;
    return `${payload}${payload} ${i}`;
  });
}
