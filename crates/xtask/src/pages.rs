//! Gate: reports as pages. Each is held against the HTML standard by the Nu HTML checker, opened in Chromium at the
//! width of a phone, a tablet and a desktop, printed on A4 and Letter, and watched for requests that leave it.

use std::fs;
use std::path::{Path, PathBuf};

use crate::checks::Checks;
use crate::packages;
use crate::shell::{Fault, Step, built, empty, root, target};

/// Widths at which pages are opened, in CSS pixels, and the height of the pictures.
const WIDTHS: [(&str, u32, u32); 3] =
    [("phone", 360, 2_600), ("tablet", 768, 2_200), ("desktop", 1_280, 1_800)];
/// Papers, with their width and height in points (1/72 inch).
const PAPERS: [(&str, &str, f64, f64); 2] =
    [("a4", "A4", 595.0, 842.0), ("letter", "letter", 612.0, 792.0)];
/// Chromium as quiet as it can be made: what it asks for by itself is none of the page's.
const QUIET: &[&str] = &[
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--disable-extensions",
    "--hide-scrollbars",
    "--virtual-time-budget=4000",
];

/// Runs the gate.
pub(crate) fn run() -> Result<(), Fault> {
    match packages::install(&[packages::BUILD, packages::PAGES]) {
        Ok(()) => {}
        Err(fault @ (Fault::Packages(_) | Fault::Status { .. })) => {
            println!("skipped: pages need a browser and a checker, and {fault}");
            return Ok(());
        }
        Err(fault) => return Err(fault),
    }
    let checker = checker()?;
    let program = built("evenwave")?;
    let folder = target().join("pages");
    for name in ["made", "shots"] {
        empty(&folder.join(name))?;
    }
    let made = folder.join("made");
    let output = Step::new(target().join("debug/examples/pages")).arg(&made).listen()?;
    if !output.status.success() {
        let words = String::from_utf8_lossy(&output.stderr).into_owned();
        return Err(Fault::Tool(words));
    }
    let take = String::from_utf8_lossy(&output.stdout).trim().to_owned();
    let mut checks = Checks::default();
    for (name, of) in [
        ("take", vec!["take", take.as_str()]),
        ("recording", vec!["take", "model.wav"]),
        ("drill", vec!["drill", "there-and-back", "stop-and-press.wav"]),
        ("lesson", vec!["lesson", "model.wav", "echo-1.wav", "echo-2.wav", "echo-3.wav"]),
        ("weeks", vec!["weeks"]),
    ] {
        println!("\n{name}");
        let page = made.join(format!("{name}.html"));
        let of: Vec<String> = of
            .into_iter()
            .map(|word| match word.ends_with(".wav") {
                true => made.join(word).display().to_string(),
                false => word.to_owned(),
            })
            .collect();
        let output = Step::new(&program)
            .args(["report", "--instrument", "cello", "--out"])
            .arg(&page)
            .arg("--journal")
            .arg(made.join("takes"))
            .args(&of)
            .listen()?;
        let words = String::from_utf8_lossy(&output.stderr).into_owned();
        checks.that(output.status.success(), "is written", words.trim());
        if output.status.success() {
            look_at(&page, name, &checker, &mut checks)?;
        }
    }
    can_fail(&made, &checker, &mut checks)?;
    println!("\npictures: {}", folder.join("shots").display());
    checks.end("pages")
}

/// The Nu HTML checker, installed into the target folder.
fn checker() -> Result<PathBuf, Fault> {
    let folder = target().join("pages/checker");
    let jar = folder.join("node_modules/vnu-jar/build/dist/vnu.jar");
    let wanted = root().join("tests/pages/package.json");
    let text = fs::read(&wanted).map_err(Fault::at(&wanted))?;
    let stamp = folder.join("package.json");
    if jar.is_file() && fs::read(&stamp).is_ok_and(|made_from| made_from == text) {
        return Ok(jar);
    }
    fs::create_dir_all(&folder).map_err(Fault::at(&folder))?;
    fs::write(&stamp, text).map_err(Fault::at(&stamp))?;
    println!("installing the HTML checker");
    // Debian's own, unless another one is there: the two cannot be beside each other.
    if Step::new("npm").arg("--version").listen().is_err() {
        packages::install(&[packages::NPM])?;
    }
    Step::new("npm")
        .args(["install", "--silent", "--ignore-scripts", "--no-audit", "--no-fund", "--prefix"])
        .arg(&folder)
        .run()?;
    Ok(jar)
}

fn look_at(page: &Path, name: &str, checker: &Path, checks: &mut Checks) -> Result<(), Fault> {
    let text = fs::read_to_string(page).map_err(Fault::at(page))?;
    let words = faults_of_html(page, checker)?;
    checks.that(words.is_empty(), "is valid HTML", words.lines().next().unwrap_or(""));
    let fetches =
        ["<script", "<img", "<link", "<iframe", " src=", " href=", "url(", "@import", "://"];
    // Its type lies in it.
    let tags = tags(&text).replace("url(data:font/ttf;base64,", "");
    let found: Vec<&str> = fetches.into_iter().filter(|word| tags.contains(word)).collect();
    checks.that(text.matches("@font-face").count() == 2, "carries its type", "");
    let kilobytes = text.len() / 1024;
    checks.that(kilobytes < 1_500, "is small enough to be sent", &format!("{kilobytes} KB"));
    checks.that(found.is_empty(), "names nothing to be fetched or run", &found.join(" "));
    let requests = requests(page)?;
    checks.that(requests.is_empty(), "no request leaves it", &requests.join(" "));
    let drawn = text.matches("role=\"img\"").count();
    let named = text.matches("<title>").count() - 1;
    let told = text.matches("<desc>").count();
    checks.that(
        drawn > 0 && named == drawn && told == drawn,
        "every picture has a name and is told in words",
        &format!("{drawn} pictures"),
    );
    checks.that(text.contains("numbness"), "has the cautions", "");
    for (width_name, width, height) in WIDTHS {
        let (inner, wide) = widths(page, &text, width)?;
        checks.that(
            inner == width && wide == width,
            &format!("fits the width of a {width_name}"),
            &format!("{wide} of {inner} px"),
        );
        shoot(page, &format!("{name}-{width_name}"), width, height)?;
    }
    // A take, a round and a lesson have one sheet, some weeks two.
    let sheets = if name == "weeks" { 2 } else { 1 };
    for (paper, size, width, height) in PAPERS {
        print(page, &text, name, sheets, (paper, size), (width, height), checks)?;
    }
    Ok(())
}

/// A page without what stands in it as text: only there can something be fetched.
fn tags(text: &str) -> String {
    let mut tags = String::new();
    let mut within = false;
    for sign in text.chars() {
        match sign {
            '<' => within = true,
            '>' => within = false,
            _ => {}
        }
        if within {
            tags.push(sign);
        }
    }
    let style = text.split_once("<style>").and_then(|(_, rest)| rest.split_once("</style>"));
    tags + style.map_or("", |(style, _)| style)
}

fn faults_of_html(page: &Path, checker: &Path) -> Result<String, Fault> {
    let output = Step::new("java")
        .arg("-jar")
        .arg(checker)
        .args(["--Werror", "--format", "text"])
        .arg(page)
        .listen()?;
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    match output.status.success() {
        true => Ok(String::new()),
        false if words.is_empty() => Ok("the checker gave no reason".to_owned()),
        false => Ok(words),
    }
}

fn chromium() -> Step {
    Step::new("chromium").args(QUIET)
}

/// Addresses that were asked for on the network while a page was open.
fn requests(page: &Path) -> Result<Vec<String>, Fault> {
    let log = target().join("pages/net.json");
    if log.exists() {
        fs::remove_file(&log).map_err(Fault::at(&log))?;
    }
    let profile = target().join("pages/profile");
    chromium()
        .arg(format!("--user-data-dir={}", profile.display()))
        .arg(format!("--log-net-log={}", log.display()))
        .arg("--dump-dom")
        .arg(address(page))
        .listen()?;
    let text = fs::read_to_string(&log).map_err(Fault::at(&log))?;
    let mut found = Vec::new();
    for part in text.split("\"url\":\"").skip(1) {
        let url = part.split('"').next().unwrap_or_default();
        if url.starts_with("http") && !is_the_browsers(url) {
            found.push(url.to_owned());
        }
    }
    found.sort();
    found.dedup();
    Ok(found)
}

/// What the browser asks for by itself, whatever the page.
fn is_the_browsers(url: &str) -> bool {
    let host = url.split('/').nth(2).unwrap_or_default();
    ["google.com", "googleapis.com", "gstatic.com", "gvt1.com"]
        .iter()
        .any(|name| host == *name || host.ends_with(&format!(".{name}")))
}

fn address(path: &Path) -> String {
    format!("file://{}", path.display())
}

/// How wide the room is at this width, and how wide the page makes itself in it: asked by a script in a copy, within a
/// frame, since a browser without a screen makes no window as narrow as a phone.
fn widths(page: &Path, text: &str, width: u32) -> Result<(u32, u32), Fault> {
    let asking = "<script>parent.postMessage(innerWidth + ' ' + document.documentElement.scrollWidth, '*')</script></body>";
    let copy = page.with_extension("asking.html");
    fs::write(&copy, without_policy(text).replace("</body>", asking)).map_err(Fault::at(&copy))?;
    let frame = page.with_extension("frame.html");
    let outer = format!(
        "<!DOCTYPE html><title>?</title><script>onmessage = e => document.title = 'widths ' + e.data + ' px'</script>\
         <iframe src=\"{}\" width={width} height=2000 style=\"border:0\"></iframe>",
        address(&copy)
    );
    fs::write(&frame, outer).map_err(Fault::at(&frame))?;
    let output =
        chromium().args(["--window-size=1600,2200", "--dump-dom"]).arg(address(&frame)).listen()?;
    let dom = String::from_utf8_lossy(&output.stdout).into_owned();
    let numbers = dom
        .split_once("<title>widths ")
        .and_then(|(_, rest)| rest.split_once(" px"))
        .map_or("", |(numbers, _)| numbers);
    let mut numbers = numbers.split(' ').filter_map(|number| number.parse().ok());
    Ok((numbers.next().unwrap_or(0), numbers.next().unwrap_or(u32::MAX)))
}

fn without_policy(text: &str) -> String {
    text.replace("http-equiv=\"Content-Security-Policy\"", "name=\"was-policy\"")
}

fn shoot(page: &Path, name: &str, width: u32, height: u32) -> Result<(), Fault> {
    let frame = page.with_extension("shot.html");
    let outer = format!(
        "<!DOCTYPE html><title>?</title><style>body{{margin:0}}iframe{{border:0;display:block}}</style>\
         <iframe src=\"{}\" width={width} height={height}></iframe>",
        address(page)
    );
    fs::write(&frame, outer).map_err(Fault::at(&frame))?;
    let shot = target().join(format!("pages/shots/{name}.png"));
    chromium()
        .arg(format!("--window-size={width},{height}"))
        .arg(format!("--screenshot={}", shot.display()))
        .arg(address(&frame))
        .listen()?;
    Ok(())
}

fn print(
    page: &Path,
    text: &str,
    name: &str,
    sheets: u32,
    (paper, size): (&str, &str),
    (width, height): (f64, f64),
    checks: &mut Checks,
) -> Result<(), Fault> {
    // As if that paper were in the printer.
    let copy = page.with_extension(format!("{paper}.html"));
    let sized = text.replace("</style>", &format!("@page{{size:{size}}}</style>"));
    fs::write(&copy, sized).map_err(Fault::at(&copy))?;
    let shots = target().join("pages/shots");
    let pdf = shots.join(format!("{name}-{paper}.pdf"));
    chromium()
        .arg("--no-pdf-header-footer")
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(address(&copy))
        .listen()?;
    let about = Step::new("pdfinfo").arg(&pdf).listen()?;
    let about = String::from_utf8_lossy(&about.stdout).into_owned();
    let line = |head: &str| {
        let line = about.lines().find(|line| line.starts_with(head));
        line.map_or("", |line| line[head.len()..].trim()).to_owned()
    };
    let sizes: Vec<f64> = line("Page size:")
        .split(|sign: char| !(sign.is_ascii_digit() || sign == '.'))
        .filter_map(|number| number.parse().ok())
        .collect();
    let fits =
        matches!(sizes[..], [w, h, ..] if (w - width).abs() < 2.0 && (h - height).abs() < 2.0);
    let pages: u32 = line("Pages:").parse().unwrap_or(0);
    let text = Step::new("pdftotext").arg(&pdf).arg("-").listen()?;
    let care = String::from_utf8_lossy(&text.stdout).contains("Care for your hands");
    checks.that(
        fits && (1..=sheets).contains(&pages) && care,
        &format!("prints on {size}, on {sheets} at most, down to the cautions"),
        &format!("{pages} of {}", line("Page size:")),
    );
    let fonts = Step::new("pdffonts").arg(&pdf).listen()?;
    let fonts = String::from_utf8_lossy(&fonts.stdout).into_owned();
    // What Chromium takes for a serif here where the page has none of its own.
    let own = !fonts.contains("LiberationSerif");
    checks.that(
        own && !fonts.is_empty(),
        "is printed in its own type",
        fonts.lines().last().unwrap_or(""),
    );
    let last =
        Step::new("pdftotext").args(["-f", &pages.to_string()]).arg(&pdf).arg("-").listen()?;
    let last = String::from_utf8_lossy(&last.stdout).into_owned();
    let alone = last.trim_start().starts_with("Care for your hands");
    checks.that(!alone, "no sheet holds only the cautions", "");
    Step::new("pdftoppm")
        .args(["-r", "60", "-png"])
        .arg(&pdf)
        .arg(shots.join(format!("{name}-{paper}")))
        .listen()?;
    Ok(())
}

/// A page that does what none may do must be seen to do it.
fn can_fail(folder: &Path, checker: &Path, checks: &mut Checks) -> Result<(), Fault> {
    println!("\na page that does what none may do");
    let page = folder.join("bad.html");
    let text = "<!DOCTYPE html><html lang=\"en\"><head><title>bad</title></head><body>\
                <img src=\"http://evenwave.invalid/x.png\"><div style=\"width:3000px\">x</div></body></html>";
    fs::write(&page, text).map_err(Fault::at(&page))?;
    let words = faults_of_html(&page, checker)?;
    checks.that(words.contains("alt"), "its HTML is found to be bad", "");
    let requests = requests(&page)?;
    let seen = requests.iter().any(|url| url.contains("evenwave.invalid"));
    checks.that(seen, "its request is seen", &requests.join(" "));
    let (_, wide) = widths(&page, text, 360)?;
    checks.that((3_000..9_000).contains(&wide), "its width is seen", &format!("{wide} px"));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_stands_in_tags_and_style_is_looked_at() {
        let text = "<style>a{b:c}</style><p title=\"x\">&lt;script src=y</p>";
        assert!(!tags(text).contains("src"));
        assert!(tags(text).contains("a{b:c}") && tags(text).contains("title"));
        assert!(tags("<p><a href=\"x\">").contains(" href="));
    }

    #[test]
    fn requests_of_the_browser_itself_are_told_from_those_of_a_page() {
        assert!(is_the_browsers("https://accounts.google.com/x"));
        assert!(!is_the_browsers("https://google.com.evenwave.invalid/x"));
    }
}
