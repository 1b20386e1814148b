/**
 * The sheet: how the finished texts and pictures of a ReportModel (`report.json`, beside it) are laid on paper.
 * Written in the language of the typesetter; it has no words and no figures of its own. All text reaches it as data,
 * never as source, so that nothing in a name or a comment can be taken for markup.
 */
export const PAGE_TEMPLATE = String.raw`
#let d = json("report.json")
#let w = d.words
#let ink = rgb("#1c1b1a")
#let soft = rgb("#6b6864")
#let faint = rgb("#c9c5bf")
#let violet = rgb("#6d1fc0")
// Later volumes hold nothing but findings.
#let whole = d.volume.number == 1
#let volume-text = if d.volume.of == 1 { "" } else { ", " + w.volumeOf.replace("{n}", str(d.volume.number)).replace("{all}", str(d.volume.of)) }

#set document(title: d.title, author: d.author, date: datetime(year: d.date.year, month: d.date.month, day: d.date.day))
#set text(font: "Inter", size: 8.5pt, fill: ink, lang: d.language, region: d.region, hyphenate: true)
#set par(leading: 0.62em, spacing: 0.9em)
#set page(
  paper: "a4",
  margin: (left: 20mm, right: 16mm, top: 21mm, bottom: 18mm),
  header: context {
    if counter(page).get().first() > 1 or not whole {
      set text(size: 7pt, fill: soft)
      grid(columns: (1fr, auto), d.title + volume-text, d.cover.rows.at(3).text)
      v(-1.4mm)
      line(length: 100%, stroke: 0.3pt + faint)
    }
  },
  footer: context {
    if counter(page).get().first() > 1 or not whole {
      set text(size: 7pt, fill: soft)
      align(right, w.pageOf.replace("{page}", str(counter(page).get().first())).replace("{pages}", str(counter(page).final().first())))
    }
  },
)
#show heading.where(level: 1): it => block(below: 5mm, text(size: 17pt, weight: 600, it.body))
#show heading.where(level: 2): it => block(above: 6mm, below: 2.5mm, text(size: 10.5pt, weight: 600, it.body))
#show heading.where(level: 3): it => block(above: 3.2mm, below: 1.4mm, text(size: 8pt, weight: 600, it.body))

#let multi(text) = text.split("\n").join(linebreak())
#let caption(body) = text(size: 6.8pt, fill: soft, body)
#let picture(p) = image(p.file, width: p.widthMm * 1mm, height: p.heightMm * 1mm, alt: p.alt)
#let framed(p) = box(stroke: 0.3pt + faint, picture(p))
#let overlaid(p, dx: 0, dy: 0) = block(width: p.drawing.widthMm * 1mm, height: p.drawing.heightMm * 1mm, clip: true, {
  place(top + left, dx: dx * 1mm, dy: dy * 1mm, picture(p.picture))
  place(top + left, picture(p.drawing))
})
#let close-up(p) = overlaid(p, dx: p.shiftLeftMm, dy: p.shiftTopMm)
// Six steps of priority in ink alone: bars filled from the left, so that rank shows without colour.
#let bars(rank) = box(baseline: 0.5pt, stack(dir: ltr, spacing: 0.7mm, ..range(5).map(k => rect(width: 1.5mm, height: 2.4mm, stroke: 0.35pt + ink, fill: if k < 5 - rank { ink } else { none }))))
#let pairs(rows, label-width: 33mm) = {
  set text(size: 7.4pt, hyphenate: false)
  set par(leading: 0.45em)
  grid(
    columns: (label-width, 1fr),
    row-gutter: 1.25mm,
    column-gutter: 2mm,
    ..rows.map(r => (text(fill: soft, r.label), multi(r.text))).flatten(),
  )
}
#let plain-table(columns, head, rows, size: 7.4pt, align: left, inset: (x: 1.2mm, y: 1.1mm)) = {
  set text(size: size, hyphenate: false)
  set par(leading: 0.5em)
  table(
    columns: columns,
    align: align,
    stroke: none,
    inset: inset,
    table.header(..head.map(h => text(weight: 600, h)), table.hline(stroke: 0.6pt + ink)),
    ..rows.map(r => (..r.map(c => if type(c) == str { multi(c) } else { c }), table.hline(stroke: 0.25pt + faint))).flatten(),
  )
}

// A finding keeps to one page: what is a little too long is set a little smaller, down to four fifths; beyond that it
// runs on to the next page rather than become unreadable.
#let one-page(body) = layout(size => {
  let tall = measure(block(width: size.width, body)).height
  let share = size.height / tall
  if share >= 1 or share < 0.8 { body } else {
    scale(x: share * 99.5%, y: share * 99.5%, origin: top + left, reflow: true, block(width: size.width, body))
  }
})

#if whole [
// ---- cover
#v(16mm)
#text(size: 9.5pt, fill: soft, d.cover.kind + volume-text)
#v(1mm)
#block(text(size: 27pt, weight: 600, par(leading: 0.4em, d.cover.line)))
#v(7mm)
#line(length: 100%, stroke: 0.8pt + ink)
#v(5mm)
#grid(
  columns: (1fr, 1fr, 1fr, 1fr),
  column-gutter: 5mm,
  ..d.cover.figures.map(f => {
    block(below: 2.6mm, text(size: 30pt, weight: 600, f.value))
    set par(leading: 0.5em)
    text(size: 8pt, f.label + if f.of != "" { " (" + f.of + ")" } else { "" })
  }),
)
#v(6mm)
#line(length: 100%, stroke: 0.3pt + faint)
#v(4mm)
#if d.cover.map != none {
  picture(d.cover.map)
  v(4mm)
}
#{
  set text(size: 8.8pt)
  grid(columns: (50mm, 1fr), row-gutter: 2.6mm, ..d.cover.rows.map(r => (text(fill: soft, r.label), r.text)).flatten())
}
#v(1fr)
#block(inset: (left: 4mm, y: 1mm), stroke: (left: 1.6pt + ink), text(size: 8.8pt, d.cover.advice))
#v(16mm)
#line(length: 95mm, stroke: 0.4pt + ink)
#v(-1.5mm)
#text(size: 7.4pt, fill: soft, d.cover.sign)
#pagebreak()

// ---- contents and summary
#{
  show outline.entry.where(level: 1): it => block(above: 1.5mm, it)
  heading(level: 1, outlined: false, bookmarked: false, w.contents)
  outline(title: none, depth: 1)
}
#v(6mm)
#heading(level: 1, w.summary)
#{
  set text(size: 9.5pt)
  for p in d.summary.paragraphs { par(p) }
}
#heading(level: 2, w.byPriority)
#plain-table(
  (44mm, 1fr, 16mm, 42mm),
  (w.priority, w.meaning, w.count, w.findingNumbers),
  d.summary.priorities.map(p => (
    [#bars(p.rank)#h(2mm)#p.name],
    p.meaning,
    p.count,
    if p.numbers.len() == 0 { "–" } else if p.numbers.len() > 24 { p.numbers.first() + " … " + p.numbers.last() } else { p.numbers.join(", ") },
  )),
)
#if d.summary.rows.len() > 0 {
  heading(level: 2, w.tableOfFindings)
  plain-table(
    (9mm, 27mm, 1fr, 25mm, 43mm, 26mm, 16mm),
    (w.colFinding, w.priority, w.colComponent, w.colPlace, w.colRate, w.colAccuracy, w.colProbability),
    d.summary.rows.enumerate().map(((k, r)) => (
      if k < d.findings.len() { link(label(d.findings.at(k).anchor), text(weight: 600, r.number)) } else { text(weight: 600, r.number) },
      [#bars(r.rank) \ #r.priority],
      r.component, r.place, r.rate, r.accuracy, r.probability,
    )),
    size: 7pt,
  )
}

// ---- maps
#let map-legend() = {
  let square(filled) = box(baseline: 0pt, rect(width: 2mm, height: 2mm, stroke: 0.4pt + ink, fill: if filled { ink } else { none }))
  let dot(filled) = box(baseline: 0pt, circle(radius: 1.1mm, stroke: 0.6pt + violet, fill: if filled { violet } else { none }))
  let stroke-of(s) = box(baseline: -0.8mm, line(length: 7mm, stroke: s))
  let entry(mark, words) = (align(center + horizon, mark), words)
  set text(size: 7.2pt)
  grid(
    columns: (9mm, 1fr, 9mm, 1fr, 9mm, 1fr),
    row-gutter: 1.6mm,
    align: horizon,
    ..entry(square(false), w.legendSuspension),
    ..entry(stroke-of(0.4pt + ink), w.legendConductor),
    ..entry(dot(true), w.legendUrgent),
    ..entry(square(true), w.legendTension),
    ..entry(stroke-of((paint: soft, thickness: 0.6pt, dash: "dashed")), w.legendTrack),
    ..entry(dot(false), w.legendOther),
    ..entry(text(size: 9pt, "×"), w.legendNotSeen),
  )
}
#pagebreak(weak: true)
#heading(level: 1, w.maps)
#for (k, m) in d.maps.enumerate() {
  block(breakable: false, {
    heading(level: 2, m.title)
    picture(m.image)
    v(-1mm)
    caption(m.caption)
    if k == 0 { map-legend() }
  })
}

]

// ---- one page a finding
#for (k, f) in d.findings.enumerate() {
  pagebreak(weak: true)
  if k == 0 { place(hide(heading(level: 1, w.findings))) }
  one-page({
  grid(
    columns: (1fr, auto),
    column-gutter: 4mm,
    align: (left + bottom, right + bottom),
    {
      show heading: it => block(above: 0pt, below: 1.6mm, text(size: 12.5pt, weight: 600, it.body))
      [#heading(level: 2, bookmarked: true, f.number + "   " + f.component + ", " + f.place) #label(f.anchor)]
      text(size: 7.6pt, fill: soft, f.of)
    },
    [#bars(f.rank)#h(2mm)#text(size: 9pt, weight: 600, f.priority)],
  )
  v(-1.5mm)
  line(length: 100%, stroke: 0.6pt + ink)
  let small(t) = heading(level: 3, outlined: false, bookmarked: false, t)
  let figure-of(body, words) = block(spacing: 0pt, below: 2.2mm, {
    block(spacing: 0pt, below: 1mm, body)
    par(leading: 0.45em, caption(words))
  })
  grid(
    columns: (104mm, 64mm),
    column-gutter: 1fr,
    row-gutter: 1mm,
    {
      if f.overlay == none { block(width: 100%, inset: 6mm, stroke: 0.3pt + faint, text(fill: soft, w.noEvidence)) } else {
        figure-of(close-up(f.overlay), f.overlay.caption)
      }
      small(w.blockWhere)
      pairs(f.where)
      small(w.blockRate)
      pairs(f.strength)
      v(-1mm)
      text(size: 6.8pt, fill: soft, w.rateIsNot)
    },
    {
      if f.plain != none { figure-of(overlaid(f.plain), f.plain.caption) }
      if f.second != none { figure-of(close-up(f.second), f.second.caption) }
      if f.side != none { figure-of(picture(f.side.image), f.side.caption) }
      figure-of(picture(f.plan.image), f.plan.caption)
    },
  )
  small(w.blockCandidates)
  plain-table((1fr, 29mm, 16mm), (w.candidate, w.probability, w.distance), f.candidates, size: 7.2pt)
  grid(
    columns: (104mm, 64mm),
    column-gutter: 1fr,
    {
      small(w.blockGrade)
      pairs(f.grade, label-width: 27mm)
    },
    {
      small(w.blockConditions)
      pairs(f.conditions, label-width: 14mm)
      small(w.blockReview)
      set text(size: 7.4pt)
      set par(leading: 0.45em)
      f.review.map(multi).join(linebreak())
    },
  )
  if f.history.len() > 0 {
    small(w.history)
    plain-table((1fr, 18mm, 46mm, 16mm, 18mm, 34mm), (w.colCampaign, w.colSeen, w.colRate, w.colRange, w.colWeather, w.priority), f.history, size: 6.8pt, inset: (x: 1mm, y: 0.7mm))
  }
  if f.notes.len() > 0 {
    small(w.notes)
    set text(size: 7.2pt)
    set par(leading: 0.45em)
    list(spacing: 1.2mm, ..f.notes)
  }
  })
}

#if whole [
// ---- changes
#if d.changes != none {
  pagebreak(weak: true)
  heading(level: 1, w.changes)
  par(d.changes.lead)
  plain-table((34mm, 1fr, 16mm), (w.colChange, w.meaning, w.count), d.changes.counts)
  v(3mm)
  plain-table((8mm, 19mm, 30mm, 22mm, 22mm, 20mm, 1fr), (w.colFinding, w.colChange, w.colComponent, w.colThen, w.colNow, w.colRatio, w.colBecause), d.changes.rows, size: 6.8pt, inset: (x: 1mm, y: 0.9mm))
  v(1mm)
  caption(d.changes.note)
}

// ---- coverage
#pagebreak(weak: true)
#heading(level: 1, w.coverage)
#par(w.coverageLead)
#heading(level: 2, w.coverageByKind)
#plain-table((1fr, 18mm, 18mm, 18mm, 24mm, 45mm), (w.colKind, w.colAll, d.coverage.states.finding, d.coverage.states.clear, d.coverage.states.notSeen, w.colMedianLimit), d.coverage.byKind)
#if d.coverage.flyAgain.len() > 0 [
  #heading(level: 2, w.flyAgain)
  #par(w.flyAgainLead)
  #plain-table((36mm, 1fr, 52mm), (w.colPlace, w.colWhat, w.colWhy), d.coverage.flyAgain, size: 7.2pt, inset: (x: 1mm, y: 0.8mm))
]
#heading(level: 2, d.coverage.allTitle)
#if d.coverage.note != "" { par(d.coverage.note) }
#{
  plain-table((1fr, 26mm, 18mm, 27mm, 18mm, 16mm, 16mm, 27mm), (w.colId, w.colKind, w.colCircuitPhase, w.colPlace, w.colState, w.colFrames, w.colNearest, w.colLimit), d.coverage.all, size: 6.6pt, inset: (x: 1mm, y: 0.8mm))
}

// ---- method
#pagebreak(weak: true)
#heading(level: 1, w.method)
#{
  set text(size: 9.5pt)
  block(width: 135mm, for p in d.method { par(p) })
}

// ---- appendix
#pagebreak(weak: true)
#heading(level: 1, w.appendix)
#for f in d.appendix.flights {
  heading(level: 2, w.colFlight + " " + f.title)
  grid(
    columns: (1fr, 1fr),
    column-gutter: 8mm,
    pairs(f.rows, label-width: 32mm),
    pairs(f.quality, label-width: 44mm),
  )
  heading(level: 3, outlined: false, bookmarked: false, w.appendixLeftOut)
  if f.leftOut.len() == 0 { text(size: 7.6pt, w.leftOutNone) } else {
    text(size: 7.6pt, w.leftOutLead)
    plain-table((1fr, 30mm), (w.colReason, w.colUvFrames), f.leftOut.map(r => (r.label, r.text)))
  }
}
#heading(level: 2, w.appendixSuspects)
#if d.appendix.suspects.len() == 0 { par(w.suspectsNone) } else {
  par(w.suspectsLead)
  if d.appendix.suspectsMore != "" { par(d.appendix.suspectsMore) }
  plain-table((20mm, 34mm, 1fr, 30mm, 30mm), (w.colSighting, w.colFlight, w.colReason, w.colStrength, w.colWhere), d.appendix.suspects, size: 7pt)
}
#heading(level: 2, w.appendixRejected)
#if d.appendix.rejected.len() == 0 { par(w.rejectedNone) } else {
  plain-table((10mm, 1fr, 45mm, 55mm), (w.colFinding, w.colComponent, w.colRate, w.blockReview), d.appendix.rejected, size: 7pt)
}
#heading(level: 2, w.appendixIdentity)
#par(w.identityLead)
#for f in d.appendix.identity {
  heading(level: 3, outlined: false, bookmarked: false, w.colFlight + " " + f.title)
  set text(size: 7.2pt)
  pairs(f.rows, label-width: 48mm)
}

// ---- cautions, glossary
#pagebreak(weak: true)
#heading(level: 1, w.cautions)
#{
  set text(size: 9.5pt)
  block(width: 140mm, enum(spacing: 2.4mm, ..d.cautions))
}
#v(6mm)
#heading(level: 1, w.glossary)
#grid(columns: (42mm, 1fr), row-gutter: 2.2mm, ..d.glossary.map(g => (text(weight: 600, g.label), g.text)).flatten())
]
`;
