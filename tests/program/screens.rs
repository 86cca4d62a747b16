//! Pages fit the screens and sheets that people have.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::pages::folder;
use crate::program::answered as tideover;

/// A program of this machine that draws pages, if any.
fn chromium() -> Option<&'static str> {
    let there = |name: &&str| Command::new(name).arg("--version").output().is_ok_and(|output| output.status.success());
    ["chromium", "chromium-browser"].into_iter().find(there)
}

/// Measures every page at every width: what lies beyond the screen without a frame that scrolls and can be seen to, pictures
/// without size or words, words over each other or with a line through them, words that hardly stand out from their ground
/// (contrast of WCAG 2.2, 4.5 to 1), and whatever a page would fetch or run.
const MEASURE: &str = r#"
const channel = c => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
const bright = c => 0.2126 * channel(c[0]) + 0.7152 * channel(c[1]) + 0.0722 * channel(c[2]);
const parse = text => { const n = text.match(/[\d.]+/g).map(Number); return n.length < 4 ? [...n, 1] : n; };
const over = (top, below) => [0, 1, 2].map(k => top[k] * top[3] + below[k] * (1 - top[3]));
const ground = (e, w) => { const all = []; for (; e; e = e.parentElement) all.push(parse(w.getComputedStyle(e).backgroundColor));
  return all.reverse().reduce((below, top) => over(top, below), [255, 255, 255]); };
window.onload = () => { const out = [];
for (const f of document.querySelectorAll('iframe')) { const w = +f.dataset.w, d = f.contentDocument, view = f.contentWindow, at = f.dataset.n + ' ' + w + ': ';
  if (d.scripts.length || d.querySelector('link, img[src^="http"], iframe, object') || view.performance.getEntriesByType('resource').length) out.push(at + 'it runs or fetches something');
  if (d.documentElement.scrollWidth > w) out.push(at + 'the page scrolls sideways');
  const words = [], told = frame => { const s = view.getComputedStyle(frame.querySelector('table'), '::before');
    return s.content.includes('scroll it sideways') && parseFloat(s.paddingBottom) + parseFloat(s.height) > 12; };
  for (const e of d.querySelectorAll('body *')) { const r = e.getBoundingClientRect();
    if (r.width == 0 || e.closest('title, desc, thead') && !e.closest('.scrolls') || e.closest('title, desc')) continue;
    const frame = e.closest('.scrolls'), paper = f.dataset.paper, inside = frame && frame != e && !paper;
    if (inside) { const s = view.getComputedStyle(frame), q = frame.getBoundingClientRect();
      if (s.overflowX != 'auto' || q.right > w + 1 || q.left < -1) out.push(at + 'a frame that cannot be scrolled'); }
    if ((r.right > w + 1 || r.left < -1) && !inside) out.push(at + e.tagName + ' beyond: ' + (e.textContent || '').slice(0, 40));
    // And one that shows all does not.
    if (!paper && e.classList.contains('scrolls') && e.scrollWidth <= e.clientWidth && told(e)) out.push(at + 'it says that a frame goes on that does not');
    // A frame that holds more than it shows says so: in words on small screens, by a shade at its edge on others.
    if (!paper && e.classList.contains('frame') && e.scrollWidth > e.clientWidth + 1) { const s = view.getComputedStyle(e);
      if (!s.backgroundImage.includes('gradient')) out.push(at + 'no shade where a frame goes on');
      if (w < 576 && !told(e)) out.push(at + 'no word that a frame goes on');
      if (view.getComputedStyle(e.querySelector('tbody th')).position != 'sticky') out.push(at + 'the names of the rows scroll away'); }
    // Of the words themselves: a cell is as high as its row.
    const all = d.createRange(); all.selectNodeContents(e);
    const lines = all.getBoundingClientRect().height / (parseFloat(view.getComputedStyle(e).lineHeight) || 20), said = (e.textContent || '').trim().split(/\s+/).length;
    if (!e.closest('svg') && e.children.length == 0 && said > 3 && lines > said - 0.5) out.push(at + 'a word a line: ' + e.textContent.slice(0, 40));
    const own = [...e.childNodes].some(n => n.nodeType == 3 && n.textContent.trim());
    if (!own) continue;
    const style = view.getComputedStyle(e), svg = e.closest('svg');
    if (!svg && !inside && e.children.length == 0) words.push([e.textContent, r]);
    const ink = parse(svg ? style.fill : style.color), sheet = ground(svg ? svg.parentElement : e, view);
    const [a, b] = [bright(over(ink, sheet)), bright(sheet)].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) out.push(at + 'hard to read, ' + ((a + 0.05) / (b + 0.05)).toFixed(2) + ': ' + e.textContent.slice(0, 30)); }
  const apart = (some, dx, dy) => some.forEach(([a, p], i) => some.slice(i + 1).forEach(([b, q]) => {
    const x = Math.min(p.right, q.right) - Math.max(p.left, q.left), y = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
    if (x > dx && y > dy) out.push(at + a.slice(0, 30) + ' over ' + b.slice(0, 30)); }));
  apart(words, 2, 4);
  // Eight cases lie beside each other from a middling screen on, and the signs of an axis can be read on the smallest.
  for (const m of d.querySelectorAll('.matrix:not(.long)')) if (!f.dataset.paper && w >= 800 && m.scrollWidth > m.clientWidth + 1) out.push(at + 'a case beyond the screen');
  for (const s of d.querySelectorAll('.variants > svg, .differences > svg, .changes > svg')) for (const t of s.querySelectorAll('text')) {
    const size = parseFloat(view.getComputedStyle(t).fontSize) * s.getBoundingClientRect().width / s.viewBox.baseVal.width;
    if (!f.dataset.paper && size < 12) out.push(at + 'letters of ' + size.toFixed(1) + ' px: ' + t.textContent); }
  for (const g of d.querySelectorAll('figure')) { const r = g.getBoundingClientRect();
    const named = g.querySelector('svg[role=img] > title, [role=region][aria-label]');
    if (r.width < 100 || r.height < 40 || !named) out.push(at + 'a picture without size or name: ' + g.className); }
  for (const s of d.querySelectorAll('svg')) { const r = s.getBoundingClientRect();
    if (!s.hasAttribute('aria-hidden') && (r.width < 100 || r.height < 40 || !s.querySelector('title').textContent || !s.querySelector('desc').textContent)) out.push(at + 'a picture without size or words');
    const texts = [...s.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
    apart(texts, 1, 3);
    for (const t of s.querySelectorAll('rect, circle, polygon, polyline, path')) { const p = t.getBoundingClientRect(), q = s.getBoundingClientRect();
      if (p.left < q.left - 2 || p.right > q.right + 2 || p.top < q.top - 2 || p.bottom > q.bottom + 2) out.push(at + 'drawn beyond its picture: ' + t.getAttribute('class')); }
    for (const t of s.querySelectorAll('text')) { const p = t.getBoundingClientRect(), q = s.getBoundingClientRect();
      if (p.left < q.left - 1 || p.right > q.right + 1 || p.top < q.top - 1 || p.bottom > q.bottom + 1) out.push(at + 'cut off: ' + t.textContent);
      for (const l of s.querySelectorAll('line.zero')) { const z = l.getBoundingClientRect();
        if (t.classList.contains('name') && Math.min(p.right, z.right) >= Math.max(p.left, z.left) && Math.min(p.bottom, z.bottom) - Math.max(p.top, z.top) > 4) out.push(at + 'a line through ' + t.textContent); } } } }
document.getElementById('out').textContent = 'measured ' + document.querySelectorAll('iframe').length + '\n' + [...new Set(out)].slice(0, 60).join('\n') + '\nend'; }
"#;

#[test]
fn pages_fit_a_phone_and_a_desk_or_skipped_without_chromium() {
    let Some(chromium) = chromium() else {
        eprintln!("skipped: no chromium on this machine");
        return;
    };
    let folder = folder().join("fit");
    fs::create_dir_all(&folder).expect("a folder");
    let results = folder.join("results.tsv").display().to_string();
    let (catalogue, cases) = ("scenarios/lineup/catalogue.toml", "scenarios/lineup/cases");
    let mut pages: Vec<(String, Vec<String>)> = Vec::new();
    let mut page = |name: &str, arguments: &[&str]| {
        pages.push((name.into(), arguments.iter().map(|part| (*part).to_string()).collect()));
    };
    let folders = ["scenarios", "scenarios/templates"].map(|folder| Path::new(env!("CARGO_MANIFEST_DIR")).join(folder));
    for demo in folders.iter().flat_map(|folder| fs::read_dir(folder).expect("the demos")) {
        let path = demo.expect("a demo").path();
        let Some(stem) = path.file_stem().filter(|_| path.extension().is_some_and(|end| end == "toml")) else {
            continue;
        };
        let (stem, file) = (stem.to_string_lossy(), path.display().to_string());
        page(&format!("run-{stem}"), &["run", &file, "--trials", "100"]);
        page(&format!("card-{stem}"), &["card", &file, "--trials", "100"]);
    }
    let storm = "scenarios/winter-storm.toml";
    for demo in ["winter-storm", "device-night", "food-and-little-unmet"] {
        let file = format!("scenarios/{demo}.toml");
        page(&format!("compare-{demo}"), &["compare", &file, "--trials", "100", "--set", "outage.starts_charged=70 %"]);
        page(&format!("size-{demo}"), &["size", &file, "--trials", "100"]);
    }
    page("now", &["now", storm, "--trials", "100", "--charge", "43%", "--at", "2027-01-14 20:30"]);
    page("years", &["years", "scenarios/ten-years.toml", "--histories", "20"]);
    page("lineup", &["lineup", catalogue, "--cases", cases, "--trials", "50", "--results", &results]);
    for record in ["healthy", "open", "weak"] {
        let file = format!("scenarios/records/{record}.toml");
        page(&format!("prove-{record}"), &["prove", &file, "--today", "2027-06-01"]);
    }
    let mut frames = String::new();
    for (name, arguments) in &pages {
        let file = folder.join(format!("{name}.html")).display().to_string();
        let mut all: Vec<&str> = arguments.iter().map(String::as_str).collect();
        all.extend(["--quiet", "--html", &file]);
        tideover(&all);
        // As it is printed: 188 mm of A4 between margins, at 96 px an inch (CSS Values and Units 3, 6.2).
        let printed = fs::read_to_string(&file).expect("a page");
        let printed = printed.replace("@media screen", "@media speech").replace("@media print", "@media all");
        fs::write(folder.join(format!("{name}.paper.html")), printed).expect("a page");
        let looks = [360, 390, 800, 1400].map(|width| (width, "", "html")).into_iter().chain([(
            710,
            " data-paper=\"1\"",
            "paper.html",
        )]);
        for (width, paper, end) in looks {
            frames.push_str(&format!(
                "<iframe data-n=\"{name}\" data-w=\"{width}\"{paper} style=\"border:0;width:{width}px;height:800px\" src=\"{name}.{end}\"></iframe>"
            ));
        }
    }
    let all = folder.join("all.html");
    fs::write(&all, format!("<script>{MEASURE}</script><pre id=\"out\"></pre>{frames}")).expect("a page");
    let output = Command::new(chromium)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files", "--dump-dom"])
        .args(["--virtual-time-budget=60000", "--window-size=1600,900"])
        .arg(format!("file://{}", all.display()))
        .output()
        .expect("chromium starts");
    let dom = String::from_utf8_lossy(&output.stdout);
    let told = dom.split("<pre id=\"out\">").nth(1).and_then(|rest| rest.split("end</pre>").next()).unwrap_or_default();
    let (measured, faults) = told.split_once('\n').unwrap_or_default();
    assert_eq!(measured, format!("measured {}", 5 * pages.len()), "{dom:.500}");
    assert_eq!(faults.trim(), "");
}

#[test]
fn a_card_and_a_proof_print_on_one_sheet_or_skipped_without_chromium() {
    let Some(chromium) = chromium() else {
        eprintln!("skipped: no chromium on this machine");
        return;
    };
    let folder = folder();
    let path = |name: &str| folder.join(name).display().to_string();
    let demos = [
        "balcony",
        "device-night",
        "food-and-little-unmet",
        "frost-in-the-shed",
        "long-thin-cable",
        "night-light",
        "second-hand",
        "summer-fridge",
        "ten-years",
        "twice-daily-cuts",
        "two-stations",
        "two-weeks-of-fuel",
        "weekend-camp",
        "winter-storm",
    ];
    for demo in demos {
        let scenario = format!("scenarios/{demo}.toml");
        tideover(&["card", &scenario, "--trials", "100", "--quiet", "--html", &path(&format!("sheet-{demo}.html"))]);
    }
    // Kits with much on their cards: a device, a generator, and four to seven loads.
    let full = ["fridge-device", "house-winter", "flat-summer", "device-and-generator"];
    for kit in full {
        let scenario = format!("tests/data/cards/{kit}.toml");
        tideover(&["card", &scenario, "--trials", "1000", "--quiet", "--html", &path(&format!("sheet-{kit}.html"))]);
    }
    for record in ["healthy", "open"] {
        let file = format!("scenarios/records/{record}.toml");
        let html = path(&format!("sheet-{record}.html"));
        tideover(&["prove", &file, "--quiet", "--today", "2027-06-01", "--html", &html]);
    }
    // On A4, and cards on letter, which is shorter by 18 mm.
    let a4 = demos.into_iter().chain(full).chain(["healthy", "open"]).map(|name| (name, "A4"));
    for (name, paper) in a4.chain(full.map(|name| (name, "letter"))) {
        let page = fs::read_to_string(path(&format!("sheet-{name}.html"))).expect("a page");
        let page = page.replace("</style>", &format!("@page {{ size: {paper}; }}</style>"));
        fs::write(path(&format!("sheet-{name}-{paper}.html")), page).expect("a page");
        let name = format!("{name}-{paper}");
        let pdf = path(&format!("sheet-{name}.pdf"));
        let output = Command::new(chromium)
            .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
            .arg(format!("--print-to-pdf={pdf}"))
            .arg(format!("file://{}", path(&format!("sheet-{name}.html"))))
            .output()
            .expect("chromium starts");
        assert!(output.status.success());
        let bytes = fs::read(&pdf).expect("a PDF");
        let text = String::from_utf8_lossy(&bytes);
        // Page objects, not the tree of pages (ISO 32000-1, 7.7.3).
        let sheets = text.matches("/Type /Page").count() - text.matches("/Type /Pages").count();
        assert_eq!(sheets, 1, "{name}");
    }
}
