//! Texts in Markdown (CommonMark 0.31, with tables) as blocks of a page: the task of the instructor, pages that explain.
//!
//! What is taken over are paragraphs, headings, lists, tables, quotations, emphasis and code. Markup of HTML is shown as the
//! text that it is, a link as its words with the address behind them, a picture as its words: a page asks for nothing.

use pulldown_cmark::{CodeBlockKind, Event, Options, Parser, Tag, TagEnd};

use super::model::{Block, Piece, Table, Text};

/// Lists and quotations within one another beyond this depth are taken for text of the outer one.
const DEPTH_MAX: usize = 8;

/// The blocks of a text. What is said of lines of code is what stands beside their fence; tables have no labels.
pub(super) fn blocks(markdown: &str) -> Vec<Block<'static>> {
    let mut reader = Reader { open: vec![Open::of(Kind::Whole)], ..Reader::default() };
    for event in Parser::new_ext(markdown, Options::ENABLE_TABLES) {
        reader.take(event);
    }
    while reader.open.len() > 1 {
        reader.close();
    }
    reader.flush();
    let mut blocks = reader.open.pop().map(|whole| whole.blocks).unwrap_or_default();
    without_gaps(&mut blocks);
    blocks
}

/// Something that holds blocks and is not closed yet.
#[derive(Debug)]
struct Open {
    kind: Kind,
    blocks: Vec<Block<'static>>,
    items: Vec<Vec<Block<'static>>>,
}

#[derive(Debug)]
enum Kind {
    Whole,
    Quote,
    List(Option<u64>),
    Item,
}

impl Open {
    fn of(kind: Kind) -> Self {
        Open { kind, blocks: Vec::new(), items: Vec::new() }
    }
}

#[derive(Debug, Default)]
struct Reader {
    open: Vec<Open>,
    /// Lists, quotations and items that are open and not kept.
    too_deep: usize,
    text: Text,
    strong: usize,
    emphasis: usize,
    /// Addresses of the links that are open.
    links: Vec<String>,
    /// What is said of a block of code that is open, and its lines.
    code: Option<(String, String)>,
    table: Table,
    row: Vec<Text>,
}

impl Reader {
    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(tag) => self.end(tag),
            Event::Text(text) => self.words(&text),
            Event::Code(text) => self.text.pieces.push(Piece::Code(text.into_string())),
            Event::Html(text) | Event::InlineHtml(text) => self.words(text.trim_end_matches('\n')),
            Event::SoftBreak => self.words(" "),
            Event::HardBreak => self.text.pieces.push(Piece::Break),
            Event::Rule => {
                self.flush();
                self.push(Block::Rule);
            }
            // Extensions that are not asked for.
            _ => {}
        }
    }

    fn words(&mut self, words: &str) {
        if let Some((_, lines)) = &mut self.code {
            lines.push_str(words);
            return;
        }
        match (self.strong > 0, self.emphasis > 0) {
            (true, _) => self.text.pieces.push(Piece::Strong(words.to_owned())),
            (false, true) => self.text.pieces.push(Piece::Emphasis(words.to_owned())),
            (false, false) => self.text = std::mem::take(&mut self.text).words(words),
        }
    }

    fn start(&mut self, tag: Tag<'_>) {
        match tag {
            Tag::Strong => self.strong += 1,
            Tag::Emphasis => self.emphasis += 1,
            Tag::Link { dest_url, .. } => self.links.push(dest_url.into_string()),
            Tag::Image { .. } => self.words("picture: "),
            Tag::CodeBlock(kind) => {
                self.flush();
                let said = match kind {
                    CodeBlockKind::Fenced(said) => said.into_string(),
                    CodeBlockKind::Indented => String::new(),
                };
                self.code = Some((said, String::new()));
            }
            Tag::Table(_) => {
                self.flush();
                self.table = Table::default();
            }
            Tag::List(first) => self.hold(Kind::List(first)),
            Tag::Item => self.hold(Kind::Item),
            Tag::BlockQuote(_) => self.hold(Kind::Quote),
            Tag::Paragraph | Tag::Heading { .. } | Tag::HtmlBlock => self.flush(),
            _ => {}
        }
    }

    fn end(&mut self, tag: TagEnd) {
        match tag {
            TagEnd::Strong => self.strong = self.strong.saturating_sub(1),
            TagEnd::Emphasis => self.emphasis = self.emphasis.saturating_sub(1),
            TagEnd::Link => {
                let address = self.links.pop().filter(|address| !address.is_empty());
                // An address that is its own words, and a place in the text itself, say nothing more.
                let said = |text: &Text, address: &str| matches!(text.pieces.last(), Some(Piece::Words(last)) if last.ends_with(address));
                if let Some(address) = address
                    && !address.starts_with('#')
                    && !said(&self.text, &address)
                {
                    self.words(&format!(" ({address})"));
                }
            }
            TagEnd::CodeBlock => {
                if let Some((said, lines)) = self.code.take() {
                    self.push(Block::Lines(said, lines));
                }
            }
            TagEnd::TableCell => {
                let cell = std::mem::take(&mut self.text);
                self.row.push(cell);
            }
            TagEnd::TableHead => self.table.head = std::mem::take(&mut self.row),
            TagEnd::TableRow => {
                let row = std::mem::take(&mut self.row);
                self.table.rows.push(row);
            }
            TagEnd::Table => {
                let table = std::mem::take(&mut self.table);
                self.push(Block::Table(table));
            }
            TagEnd::Heading(level) => {
                let text = std::mem::take(&mut self.text);
                self.push(Block::Heading(level as usize, text));
            }
            TagEnd::List(_) | TagEnd::Item | TagEnd::BlockQuote(_) => self.close(),
            TagEnd::Paragraph | TagEnd::HtmlBlock => self.flush(),
            _ => {}
        }
    }

    fn hold(&mut self, kind: Kind) {
        self.flush();
        if self.open.len() > DEPTH_MAX * 2 || self.too_deep > 0 {
            self.too_deep += 1;
        } else {
            self.open.push(Open::of(kind));
        }
    }

    fn close(&mut self) {
        self.flush();
        if self.too_deep > 0 {
            self.too_deep -= 1;
            return;
        }
        // The outermost is never closed.
        let Some(closed) = (self.open.len() > 1).then(|| self.open.pop()).flatten() else { return };
        match closed.kind {
            Kind::List(first) => self.push(Block::List(first, closed.items)),
            Kind::Quote => self.push(Block::Quote(closed.blocks)),
            Kind::Item => {
                if let Some(list) = self.open.last_mut() {
                    list.items.push(closed.blocks);
                }
            }
            Kind::Whole => {}
        }
    }

    /// Ends the paragraph that is open: items of tight lists have text without one.
    fn flush(&mut self) {
        let text = std::mem::take(&mut self.text);
        if !text.is_empty() {
            self.push(Block::Paragraph(text));
        }
    }

    fn push(&mut self, block: Block<'static>) {
        if let Some(open) = self.open.last_mut() {
            open.blocks.push(block);
        }
    }
}

/// Numbers the levels of the headings that there are without a gap: the outermost is 1.
fn without_gaps(blocks: &mut [Block<'_>]) {
    let level = |block: &Block<'_>| match block {
        Block::Heading(level, _) => Some(*level),
        _ => None,
    };
    let mut levels: Vec<usize> = blocks.iter().filter_map(level).collect();
    levels.sort_unstable();
    levels.dedup();
    for block in blocks {
        if let Block::Heading(level, _) = block {
            *level = levels.iter().position(|known| known == level).unwrap_or(0) + 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &Text) -> String {
        let piece = |piece: &Piece| match piece {
            Piece::Words(words) => words.clone(),
            Piece::Strong(words) => format!("<{words}>"),
            Piece::Emphasis(words) => format!("({words})"),
            Piece::Code(words) => format!("{{{words}}}"),
            other => format!("{other:?}"),
        };
        text.pieces.iter().map(piece).collect()
    }

    /// The blocks on a line each, what is within others further right.
    fn shown(blocks: &[Block<'_>], depth: usize) -> String {
        let mut out = String::new();
        for block in blocks {
            out += &"  ".repeat(depth);
            out += &match block {
                Block::Paragraph(text) => format!("paragraph {}\n", words(text)),
                Block::Heading(level, text) => format!("heading {level} {}\n", words(text)),
                Block::List(first, items) => {
                    let items = items.iter().map(|item| format!("-\n{}", shown(item, depth + 1)));
                    format!("list {first:?}\n{}", items.collect::<String>())
                }
                Block::Table(table) => {
                    let row = |row: &Vec<Text>| row.iter().map(words).collect::<Vec<_>>().join(" | ");
                    let rows = [&table.head].into_iter().chain(&table.rows).map(row);
                    format!("table {}\n", rows.collect::<Vec<_>>().join(" // "))
                }
                Block::Lines(said, lines) => format!("lines {said:?} {lines:?}\n"),
                Block::Quote(inner) => format!("quote\n{}", shown(inner, depth + 1)),
                Block::Rule => "rule\n".to_owned(),
                other => format!("{other:?}\n"),
            };
        }
        out
    }

    #[test]
    fn a_task_as_instructors_write_it() {
        let text = "## Fan\n\nIt has a **fan** and a *lamp*,\nand `%IX0.0`.\n\n#### More\n\n3. one\n4. two\n   - in it\n\n\
                    > mind\n> this\n\n| a | b |\n|---|---|\n| 1 | `x` |\n\n```st\nA := B;\n```\n\n---\n";
        assert_eq!(
            shown(&blocks(text), 0),
            "heading 1 Fan\nparagraph It has a <fan> and a (lamp), and {%IX0.0}.\nheading 2 More\nlist Some(3)\n-\n  \
             paragraph one\n-\n  paragraph two\n  list None\n-\n    paragraph in it\nquote\n  paragraph mind this\ntable a \
             | b // 1 | {x}\nlines \"st\" \"A := B;\\n\"\nrule\n"
        );
    }

    #[test]
    fn addresses_are_told_and_markup_is_text() {
        let text = "[sheet](http://x.invalid/a), <http://y.invalid>, [up](#a) and ![plan](p.png)\n\n<script>go()</script>\n\n<b>x</b>\n";
        assert_eq!(
            shown(&blocks(text), 0),
            "paragraph sheet (http://x.invalid/a), http://y.invalid, up and picture: plan\nparagraph <script>go()</script>\n\
             paragraph <b>x</b>\n"
        );
    }

    #[test]
    fn depth_is_bounded() {
        for deep in ["- ".repeat(3_000) + "x", "> ".repeat(3_000) + "x", "*".repeat(9_000), "[".repeat(9_000)]
        {
            let blocks = blocks(&deep);
            assert!(depth(&blocks) <= DEPTH_MAX * 2 + 2, "{deep:.20}");
        }
    }

    fn depth(blocks: &[Block<'_>]) -> usize {
        let inner = blocks.iter().map(|block| match block {
            Block::Quote(inner) => depth(inner),
            Block::List(_, items) => items.iter().map(|item| depth(item)).max().unwrap_or(0) + 1,
            _ => 0,
        });
        inner.max().unwrap_or(0) + 1
    }
}
