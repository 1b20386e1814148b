import { INK, INK_FAINT, INK_SOFT, PAPER, ULTRAVIOLET } from '../ink.ts';
import { leaf } from '../xml.ts';
import type { EvidenceContents } from './EvidenceContents.ts';
import { EVIDENCE_SCRIPT } from './evidenceScript.ts';

const STYLE = `
:root{color-scheme:light;--ink:${INK};--soft:#57534e;--faint:${INK_FAINT};--paper:${PAPER};--uv:${ULTRAVIOLET};--hint:${INK_SOFT}}
*{box-sizing:border-box}
body{margin:0;font:15px/1.45 Inter,system-ui,"Segoe UI",Roboto,Arial,sans-serif;color:var(--ink);background:var(--paper)}
header,main{max-width:1500px;margin:0 auto;padding:0 20px}
header{padding-top:18px}
h1{font-size:26px;margin:0 0 2px;font-weight:600}
h2{font-size:18px;margin:22px 0 8px;font-weight:600}
h3{font-size:14px;margin:16px 0 4px;font-weight:600}
.kind{color:var(--soft);margin:0}
.top{display:flex;gap:20px;justify-content:space-between;align-items:start;flex-wrap:wrap}
dl.facts{display:flex;flex-wrap:wrap;gap:4px 26px;margin:10px 0;font-size:14px}
dl.facts div{display:flex;gap:6px}
dt{color:var(--soft)}dd{margin:0}
.advice{border-left:3px solid var(--ink);padding:1px 0 1px 12px;margin:8px 0;max-width:150ch;font-size:13.5px}
summary{cursor:pointer;padding:3px 0}
.tools{display:flex;flex-wrap:wrap;gap:10px 18px;align-items:end;border:1px solid var(--faint);border-width:1px 0;padding:10px 0;margin:8px 0 12px}
.tools label{display:flex;flex-direction:column;font-size:13px;color:var(--soft);gap:3px}
.tools fieldset{border:0;padding:0;margin:0}
.tools legend{font-size:13px;color:var(--soft);padding:0;margin-bottom:3px}
.tools .choice{display:inline-flex;flex-direction:row;align-items:center;gap:5px;color:var(--ink);font-size:14px;margin-right:12px;min-height:28px}
input[type=search],select,button{font:inherit;color:var(--ink);background:#fff;border:1px solid var(--soft);border-radius:3px;padding:5px 9px;min-height:34px}
button{cursor:pointer}button[aria-pressed=true]{background:var(--ink);color:#fff}
:focus-visible{outline:3px solid var(--uv);outline-offset:2px}
.columns{display:grid;grid-template-columns:minmax(540px,6fr) minmax(480px,7fr);gap:26px;align-items:start}
.list{max-height:82vh;overflow:auto;border-bottom:1px solid var(--faint)}
table{border-collapse:collapse;width:100%;font-size:13px}
th,td{text-align:left;vertical-align:top;padding:6px 8px 6px 0;border-bottom:1px solid var(--faint)}
thead th{position:sticky;top:0;background:var(--paper);border-bottom:1.5px solid var(--ink);font-weight:600}
th button{all:unset;cursor:pointer;font-weight:600}
th button:focus-visible{outline:3px solid var(--uv);outline-offset:2px}
th[aria-sort=ascending] button::after{content:" \\2191"}th[aria-sort=descending] button::after{content:" \\2193"}
tbody tr.row{cursor:pointer}tbody tr.row:hover{background:#f4f2ee}tbody tr[aria-selected=true]{background:#efe8f7}
td .open{all:unset;cursor:pointer;font-weight:600;text-decoration:underline;text-underline-offset:2px}
td .open:focus-visible{outline:3px solid var(--uv);outline-offset:2px}
.bars{display:inline-flex;gap:2px;margin-right:6px;vertical-align:-1px}
.bars i{width:6px;height:11px;border:1px solid var(--ink)}.bars i.on{background:var(--ink)}
.muted{color:var(--soft)}
.detail figure{margin:0 0 14px}
figcaption{font-size:12.5px;color:var(--soft);margin-top:5px;max-width:80ch}
.look{position:relative;overflow:hidden;border:1px solid var(--faint);background:#ddd;width:100%}
.look img{position:absolute;display:block}
.look .lines{left:0;top:0;width:100%;height:100%}
.plainlook .lines{visibility:hidden}
.pair{display:grid;grid-template-columns:1fr 1fr;gap:14px}
.pair img.drawing{width:100%;height:auto;border:1px solid var(--faint);background:#fff}
dl.rows{display:grid;grid-template-columns:minmax(120px,11em) 1fr;gap:3px 12px;margin:0;font-size:13.5px}
dl.rows dd{white-space:pre-line}
.map text{font-family:Inter,system-ui,Arial,sans-serif}
.map svg{width:100%;height:auto;max-height:46vh;display:block}
.map [data-finding]{cursor:pointer}
.map [data-finding].chosen circle{stroke-width:1.6;r:2.6}
.scroll{overflow-x:auto}
.nav{display:flex;gap:8px;align-items:center;margin:0 0 8px}
.nav .muted{flex:1}
footer{max-width:1500px;margin:26px auto 0;padding:12px 20px 40px;border-top:1px solid var(--faint);font-size:13.5px}
footer ol{max-width:90ch}
@media (max-width:1000px){.columns{grid-template-columns:1fr}.list{max-height:46vh}}
@media (max-width:560px){header,main,footer{padding-left:12px;padding-right:12px}.pair{grid-template-columns:1fr}h1{font-size:21px}dl.rows{grid-template-columns:1fr;gap:0}dl.rows dd{margin-bottom:6px}.hide-narrow{display:none}}
@media print{.tools,.nav,.list{display:none}.columns{display:block}}
`;

/** Data for the script, which stands in a block of its own: nothing in it can end the block or begin a tag. */
const dataBlock = (contents: EvidenceContents): string =>
  JSON.stringify(contents).replace(/[<>&\u2028\u2029]/g, (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`);

/** The page as one text; pictures are beside it, under the names that the findings' pages give. */
export function evidencePage(contents: EvidenceContents): string {
  const [first] = contents.languages;
  return `<!doctype html>
<html lang="${first.code}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
${leaf('title', first.title)}
<style>${STYLE}</style>
</head>
<body>
<header id="head"></header>
<main id="main">
${leaf('noscript', first.words.noScript)}
</main>
<footer id="foot"></footer>
<script type="application/json" id="data">${dataBlock(contents)}</script>
<script>${EVIDENCE_SCRIPT}</script>
</body>
</html>
`;
}
