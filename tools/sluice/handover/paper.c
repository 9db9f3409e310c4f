/* paper.c - each element in both forms, side by side. In Markdown what could be taken for a
 * mark of its own is escaped. */
#include "paper.h"

#include <stdarg.h>
#include <string.h>

#include "core/text.h"
#include "sluice/page/escape.h"
#include "sluice/page/sheet.h"

enum { SAID_MAX = 1024 };

static const char style[] =
    "@page{size:A4;margin:8mm 12mm}"
    "*{box-sizing:border-box}"
    "body{margin:0 auto;max-width:186mm;color:" INK ";background:#fff;"
    "font:8.9pt/1.3 'DejaVu Sans',Verdana,sans-serif;"
    "-webkit-print-color-adjust:exact;print-color-adjust:exact}"
    "section.page{break-after:page}section.page:last-of-type{break-after:auto}"
    "table,figure,.care,.label{break-inside:avoid}h2{break-after:avoid}"
    "header{display:flex;justify-content:space-between;align-items:baseline;gap:6mm;"
    "border-bottom:1.5px solid " FAINT ";padding-bottom:1.5mm}header span{color:" MUTED
    ";font-size:8pt;text-align:right;flex:0 1 auto;max-width:45%}"
    "h1{font-size:16pt;margin:0;flex:1 1 auto}h2{font-size:10pt;margin:1.8mm 0 .5mm}"
    "p{margin:.7mm 0}ul{margin:.5mm 0;padding-left:4.5mm}li{margin:.3mm 0}"
    "figure{margin:1.5mm 0}svg{width:100%;height:auto;max-height:102mm;display:block}"
    "table{border-collapse:collapse;width:100%;font-size:7.8pt;margin:.8mm 0}"
    "th,td{text-align:left;vertical-align:top;padding:.35mm 1.2mm}"
    "thead th{font-weight:normal;color:" MUTED "}tbody tr{border-top:1px solid " FAINT "}"
    "td:first-child{font-weight:bold}"
    ".care{border:1.5px solid " DEADLINE ";padding:1mm 3mm;margin-top:2mm;font-size:8.2pt}"
    ".labels{display:grid;grid-template-columns:1fr 1fr 1fr;gap:2mm;margin-top:1mm}"
    ".label{border:1px dashed " INK ";padding:1.5mm 2mm;font-size:7.4pt;line-height:1.28}"
    ".label b{display:block;font-size:8.6pt}"
    "pre{font:6.8pt/1.25 'DejaVu Sans Mono',monospace;margin:1mm 0;white-space:pre-wrap;"
    "overflow-wrap:anywhere}"
    "@media screen{body{padding:8mm;max-width:210mm}section.page{margin-bottom:14mm}}"
    "@media screen and (max-width:600px){.labels{grid-template-columns:1fr}}";

/* A name or an address must not become emphasis, a link or a tag; a line must not begin a list. */
static void put_plain(const struct paper *paper, const char *text)
{
    for (; *text; text++) {
        if (strchr("\\`*_[]<>|#", *text))
            fputc('\\', paper->to);
        fputc((unsigned char)*text < ' ' ? '?' : *text, paper->to);
    }
}

static void put(const struct paper *paper, const char *text)
{
    if (paper->plain)
        put_plain(paper, text);
    else
        escape_put(paper->to, text);
}

/* Between a beginning and an end that differ by the form. */
static void put_between(const struct paper *paper, const char *const html[2],
                        const char *const plain[2], const char *text)
{
    const char *const *marks = paper->plain ? plain : html;
    fputs(marks[0], paper->to);
    put(paper, text);
    fputs(marks[1], paper->to);
}

static void mark(const struct paper *paper, const char *html, const char *plain)
{
    fputs(paper->plain ? plain : html, paper->to);
}

void paper_begin(struct paper *paper, const char *title)
{
    if (paper->plain)
        return;
    fputs("<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
          "<meta name=\"viewport\" content=\"width=device-width\"><title>",
          paper->to);
    escape_put(paper->to, title);
    fprintf(paper->to, "</title><style>%s</style></head><body>\n", style);
}

void paper_end(struct paper *paper)
{
    mark(paper, "</section>\n</body></html>\n", "");
}

void paper_page(struct paper *paper, const char *title, const char *aside)
{
    if (paper->pages++ > 0)
        mark(paper, "</section>\n", "\n");
    put_between(paper, (const char *const[]){"<section class=\"page\"><header><h1>", "</h1><span>"},
                (const char *const[]){"# ", "\n\n"}, title);
    put_between(paper, (const char *const[]){"", "</span></header>\n"},
                (const char *const[]){"", "\n"}, aside);
}

void paper_heading(struct paper *paper, const char *text)
{
    put_between(paper, (const char *const[]){"<h2>", "</h2>\n"},
                (const char *const[]){"## ", "\n\n"}, text);
}

static const char *said(char buffer[static SAID_MAX], const char *format, va_list arguments)
{
    struct text text = text_in(buffer, SAID_MAX);
    text_add_list(&text, format, arguments);
    return buffer;
}

void paper_say(struct paper *paper, const char *format, ...)
{
    char buffer[SAID_MAX];
    va_list arguments;
    va_start(arguments, format);
    put_between(paper, (const char *const[]){"<p>", "</p>\n"}, (const char *const[]){"", "\n\n"},
                said(buffer, format, arguments));
    va_end(arguments);
}

void paper_warn(struct paper *paper, const char *title, const char *text)
{
    put_between(paper, (const char *const[]){"<div class=\"care\"><b>", "</b> "},
                (const char *const[]){"> **", "** "}, title);
    put_between(paper, (const char *const[]){"", "</div>\n"}, (const char *const[]){"", "\n\n"},
                text);
}

void paper_list_begin(struct paper *paper)
{
    mark(paper, "<ul>\n", "");
}

void paper_item(struct paper *paper, const char *format, ...)
{
    char buffer[SAID_MAX];
    va_list arguments;
    va_start(arguments, format);
    put_between(paper, (const char *const[]){"<li>", "</li>\n"}, (const char *const[]){"- ", "\n"},
                said(buffer, format, arguments));
    va_end(arguments);
}

void paper_list_end(struct paper *paper)
{
    mark(paper, "</ul>\n", "\n");
}

void paper_table_begin(struct paper *paper, const char *const head[])
{
    mark(paper, "<table><thead><tr>", "|");
    for (int k = 0; head[k]; k++)
        put_between(paper, (const char *const[]){"<th>", "</th>"}, (const char *const[]){" ", " |"},
                    head[k]);
    mark(paper, "</tr></thead><tbody>\n", "\n|");
    for (int k = 0; head[k] && paper->plain; k++)
        fputs("---|", paper->to);
    mark(paper, "", "\n");
}

void paper_row(struct paper *paper, const char *const cells[])
{
    mark(paper, "<tr>", "|");
    for (int k = 0; cells[k]; k++)
        put_between(paper, (const char *const[]){"<td>", "</td>"}, (const char *const[]){" ", " |"},
                    cells[k]);
    mark(paper, "</tr>\n", "\n");
}

void paper_table_end(struct paper *paper)
{
    mark(paper, "</tbody></table>\n", "\n");
}

/* In Markdown the fence is longer than any run of backticks in the text. */
static void put_fence(const struct paper *paper, const char *bytes, size_t size)
{
    size_t run = 0, longest = 2;
    for (size_t k = 0; k < size; k++) {
        run = bytes[k] == '`' ? run + 1 : 0;
        longest = run > longest ? run : longest;
    }
    for (size_t k = 0; k <= longest; k++)
        fputc('`', paper->to);
    fputc('\n', paper->to);
}

void paper_verbatim(struct paper *paper, const char *bytes, size_t size)
{
    if (paper->plain)
        put_fence(paper, bytes, size);
    else
        fputs("<pre>", paper->to);
    for (size_t k = 0; k < size; k++) {
        const char one[] = {bytes[k], '\0'};
        if (paper->plain || bytes[k] == '\n' || bytes[k] == '\t')
            fputc(bytes[k], paper->to);
        else
            escape_put(paper->to, one);
    }
    if (size > 0 && bytes[size - 1] != '\n')
        fputc('\n', paper->to);
    if (paper->plain)
        put_fence(paper, bytes, size);
    else
        fputs("</pre>\n", paper->to);
}

void paper_labels_begin(struct paper *paper)
{
    mark(paper, "<div class=\"labels\">\n", "");
}

void paper_label(struct paper *paper, const char *head, const char *text)
{
    put_between(paper, (const char *const[]){"<div class=\"label\"><b>", "</b>"},
                (const char *const[]){"- **", "** "}, head);
    put_between(paper, (const char *const[]){"", "</div>\n"}, (const char *const[]){"", "\n"},
                text);
}

void paper_labels_end(struct paper *paper)
{
    mark(paper, "</div>\n", "\n");
}
