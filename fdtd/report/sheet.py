"""The style sheet of the page: light and dark, narrow and wide, screen and paper."""

from __future__ import annotations

from fdtd.report.figures import colour_rules

_RULES = """
:root{color-scheme:light dark;--panel:#f6f5f1;--rule:#dddcd8;--accent:#a64400;--mark:#d55e00;--onmark:#fff}
@media screen and (prefers-color-scheme:dark){
:root{--panel:#1e2126;--rule:#3a3d44;--accent:#ff9a66;--mark:#ff8548;--onmark:#15171b}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.55 system-ui,-apple-system,"Segoe UI",Roboto,
"Helvetica Neue",Arial,"Noto Sans","DejaVu Sans",sans-serif;overflow-wrap:anywhere}
.page{max-width:70rem;margin:0 auto;padding:0 clamp(1rem,4vw,3rem) 4rem}
p,li,dd{max-width:68ch}
p{margin:0 0 .8em}
ul{margin:0 0 .9em;padding-left:1.2em}
li{margin:.2em 0}
a{color:var(--accent);text-underline-offset:.15em}
:focus-visible{outline:3px solid var(--accent);outline-offset:2px}
.skip{position:absolute;left:-999rem}
.skip:focus{left:1rem;top:.5rem;background:var(--paper);padding:.4rem .8rem;z-index:2}
h1,h2,h3,h4{line-height:1.2;font-weight:650;text-wrap:balance;margin:0}
.eyebrow{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;justify-content:space-between;border-bottom:1px solid var(--rule);
padding:.9rem 0 .7rem;margin-bottom:clamp(1.2rem,3vw,2.4rem);font-size:.85rem;color:var(--muted)}
.eyebrow h1{font-size:1rem;color:var(--ink)}
.several>h1{font-size:clamp(1.5rem,4vw,2.2rem);padding-top:clamp(1.2rem,3vw,2.4rem)}
nav.parts{margin-top:1.2rem;font-size:1.05rem}
nav.parts ol{margin:0;padding-left:1.4em}
nav.parts li{margin:.5em 0}
nav.parts a{font-weight:600}
.cards li:only-child{max-width:26rem}
.part>h2{font-size:clamp(1.3rem,3vw,1.7rem);margin:3.5rem 0 1.2rem;padding-top:1rem;border-top:3px solid var(--ink)}
.answer{display:grid;gap:1.4rem 3rem;grid-template-columns:minmax(0,1fr);align-items:start}
.answer .lead{font-size:clamp(1.5rem,1.1rem + 1.7vw,2.25rem);line-height:1.2;font-weight:680;letter-spacing:-.012em;
text-wrap:balance;max-width:27ch;margin:0 0 1.1rem}
.answer .note{display:block;font-size:.9rem;line-height:1.4;color:var(--muted)}
.answer .more{font-size:1.1rem;line-height:1.5}
.answer .more p{margin:0 0 .45em;max-width:56ch}
.cards{grid-column:1/-1;display:grid;gap:.8rem;grid-template-columns:repeat(auto-fit,minmax(min(15rem,100%),1fr));
margin:0;padding:0;list-style:none}
.cards li{max-width:none;margin:0;background:var(--panel);border-top:3px solid var(--mark);padding:.85rem 1.1rem 1rem}
.cards .label{font-size:.85rem;color:var(--muted)}
.cards .big{font-size:clamp(1.35rem,2.4vw,1.75rem);font-weight:650;line-height:1.25;font-variant-numeric:tabular-nums;
margin:.1rem 0 .3rem}
.cards .small{font-size:.9rem;line-height:1.4}
.cards .small ul{margin:0;padding:0;list-style:none}
.cards .small ul li{background:none;border:0;padding:0;margin:0 0 .3em}
.arrow{color:var(--muted);font-weight:400}
.answer figure{margin:0;max-width:30rem;width:100%}
.answer figcaption,.answer .key{font-size:.85rem;color:var(--muted)}
.sketch{display:block;width:100%;height:auto;max-height:25rem}
.sketch .room{fill:var(--panel);stroke:var(--ink);stroke-width:3.5;stroke-linejoin:miter}
.sketch .thing{fill:var(--solid);stroke:none;opacity:.6}
.sketch .sheet{fill:none;stroke:var(--ink);stroke-width:2}
.sketch .absorber{fill:var(--mark);fill-opacity:.35;stroke:var(--mark);stroke-width:4}
.sketch .tried{fill:var(--paper);stroke:var(--ink);stroke-width:1.2}
.sketch rect.source{fill:var(--line-3)}
.sketch circle.seat{fill:var(--line-4)}
.sketch .halo{fill:var(--mark);opacity:.2}
.sketch .lead{stroke:var(--mark);stroke-width:2}
.sketch rect.spot{fill:var(--mark)}
.sketch rect.equal{fill:var(--paper);stroke:var(--mark);stroke-width:2}
.sketch text{font:600 15px system-ui,"Segoe UI",Roboto,Arial,"DejaVu Sans",sans-serif;text-anchor:middle;
fill:var(--ink);paint-order:stroke;stroke:var(--panel);stroke-width:4px}
.sketch text.number{fill:var(--onmark);stroke:none;font-size:16px;font-weight:700}
.sketch text.equal{fill:var(--ink);font-size:12px}
nav{border-block:1px solid var(--rule);margin:2rem 0 0;padding:.7rem 0;font-size:.92rem}
nav ul{display:flex;flex-wrap:wrap;gap:.25rem 1.3rem;list-style:none;margin:0;padding:0}
nav li{margin:0}
section{margin-top:clamp(2.4rem,5vw,3.6rem)}
section>h2,section>h3{font-size:clamp(1.25rem,2.5vw,1.5rem);margin:0 0 1rem}
section h4,section>h3+*>h4,.sub{font-size:1.05rem;margin:1.6rem 0 .6rem}
.figures{display:grid;grid-template-columns:minmax(0,1fr);gap:2rem 2.5rem;margin:1.4rem 0}
figure{margin:0}
.art{background:var(--paper)}
.art svg,.art img{display:block;width:100%;height:auto;max-width:100%}
.half .art{max-width:30rem}
.art.narrow{display:none}
.whole .art{max-width:58rem}
figcaption{font-size:.85rem;line-height:1.45;color:var(--muted);max-width:68ch;margin-top:.5rem}
.table{overflow-x:auto;margin:1.2rem 0 1.6rem}
table{border-collapse:collapse;width:100%;font-size:.92rem;line-height:1.4}
caption{text-align:left;font-weight:600;padding:0 0 .5rem;caption-side:top}
th,td{padding:.42rem .7rem .42rem 0;border-bottom:1px solid var(--rule);vertical-align:baseline}
thead th{font-weight:600;color:var(--muted);border-bottom:1.5px solid var(--ink);vertical-align:bottom;line-height:1.25}
tbody th{font-weight:500}
.w{text-align:left;overflow-wrap:break-word;hyphens:auto}
.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
thead .n{white-space:normal;overflow-wrap:normal;hyphens:auto}
tr.advised th,tr.advised td{background:var(--panel)}
.ranking td:nth-child(2){min-width:15rem}
.bar{display:block;width:100%;min-width:8rem;height:1.1rem}
.bar .b{fill:var(--line-3);opacity:.45}
.bar .s{stroke:var(--ink);stroke-width:2;vector-effect:non-scaling-stroke}
.bar .z{stroke:var(--muted);stroke-width:1;vector-effect:non-scaling-stroke}
.tag{display:inline-block;font-size:.78rem;font-weight:600;border:1px solid currentColor;border-radius:1em;
padding:0 .55em;color:var(--accent);white-space:nowrap}
dl{margin:0 0 1.2rem;font-size:.95rem}
dl div{display:grid;grid-template-columns:minmax(7rem,13rem) minmax(0,1fr);gap:1rem;padding:.4rem 0;
border-bottom:1px solid var(--rule)}
dt{color:var(--muted)}
dd{margin:0}
code{white-space:nowrap}
dd code,pre code{white-space:inherit}
code,pre{font:.88em/1.5 ui-monospace,"SF Mono",Menlo,Consolas,"DejaVu Sans Mono",monospace}
pre{background:var(--panel);padding:.9rem 1.1rem;white-space:pre-wrap;overflow-wrap:anywhere;margin:.6rem 0 1.2rem}
details{border-bottom:1px solid var(--rule);margin:.4rem 0 0}
section>h2+details,section>h3+details{margin-top:-.4rem}
summary{cursor:pointer;font-weight:600;padding:.55rem 0;color:var(--accent)}
details[open]{padding-bottom:.6rem}
image.dark{display:none}
@media screen and (prefers-color-scheme:dark){image.dark{display:inline}image.light{display:none}}
.caution{border-left:4px solid var(--mark);padding:.1rem 0 .1rem 1.2rem}
.caution li{margin:.55em 0}
footer{margin-top:4rem;padding-top:.8rem;border-top:1px solid var(--rule);font-size:.85rem;color:var(--muted)}
@media screen and (min-width:56rem){
.answer.with-plan{grid-template-columns:minmax(0,1.25fr) minmax(0,1fr)}
.figures.two{grid-template-columns:repeat(2,minmax(0,1fr))}
.figures.two .whole{grid-column:1/-1}}
@media screen and (max-width:40rem){
.ranking td:nth-child(2){min-width:0}
.art.wide{display:none}
.art.narrow{display:block;max-width:30rem}
table,thead,tbody,tr,th,td,caption{display:block}
.table{overflow-x:visible}
thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
tr{border-bottom:1.5px solid var(--ink);padding:.5rem 0}
tbody th{border:0;font-weight:650;padding:.15rem 0 .25rem}
tbody th::before{content:attr(data-label) " ";font-weight:400;color:var(--muted)}
td[data-label=Bar]::before{content:none}
td[data-label=Bar]>span{width:100%}
td{display:flex;justify-content:space-between;gap:1rem;border:0;padding:.12rem 0;text-align:right}
td::before{content:attr(data-label);color:var(--muted);text-align:left;flex:0 1 auto;hyphens:auto}
td.w{text-align:right}
td.n{white-space:normal}
.bar{min-width:0}
dl div{grid-template-columns:minmax(0,1fr);gap:.05rem}}
@page{size:A4;margin:16mm 15mm 18mm}
.hidden{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
@media print{
:root{color-scheme:light}
html{font-size:9.4pt}
body{line-height:1.42;background:#fff}
.page{max-width:none;padding:0}
nav:not(.parts),.skip,.on-screen{display:none}
details::details-content{content-visibility:visible;block-size:auto}
summary{color:inherit;list-style:none;padding:1mm 0;break-after:avoid}
summary::-webkit-details-marker{display:none}
details{border:0}
a{color:inherit;text-decoration:none}
.eyebrow{margin-bottom:5mm;padding-top:0}
.answer.with-plan{grid-template-columns:minmax(0,1.2fr) minmax(0,1fr);gap:4mm 8mm}
.answer .lead{font-size:21pt}
.cards{grid-template-columns:repeat(3,1fr)}
.cards .big{font-size:14pt}
section{margin-top:8mm}
section>h2,section>h3{font-size:14pt;margin-bottom:3mm}
h2,h3,h4,caption,thead{break-after:avoid}
.short{break-inside:avoid}
figure,.cards li,tr,dl div,.caution li{break-inside:avoid}
thead{display:table-header-group}
.table{overflow:visible}
table{font-size:8.2pt}
.ranking td:nth-child(2){min-width:42mm}
.bar{min-width:22mm}
th,td{padding:1.1mm 2.2mm 1.1mm 0}
.figures{gap:5mm 8mm;margin:3mm 0}
.figures.two{grid-template-columns:repeat(2,minmax(0,1fr))}
.figures.two .whole{grid-column:1/-1}
.half .art{max-width:none}
.whole .art{max-width:142mm}
.placement .art,.candidates .art,.plan .art{max-width:122mm}
figcaption{margin-top:1mm}
.part+.part{break-before:page}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}}
"""


def style_sheet() -> str:
    """All of it, on as few lines as read well."""
    return str(colour_rules()) + _RULES
