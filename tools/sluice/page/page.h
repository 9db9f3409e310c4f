/* page.h - text on a screen of 80 columns, or of a narrower terminal's.
 *
 * Text that came from elsewhere (a title, a device's answer) is printed without
 * control characters, and counted in characters, not in bytes. */
#ifndef SLUICE_TOOLS_PAGE_H
#define SLUICE_TOOLS_PAGE_H

#include <stdbool.h>
#include <stdio.h>

enum { PAGE_WIDTH = 80, PAGE_NARROWEST = 40 };

enum page_colour { PAGE_PLAIN, PAGE_BOLD, PAGE_GREEN, PAGE_RED, PAGE_DIM, PAGE_COLOURS };

/* One line, and how far it has got. */
struct page {
    bool colour;
    int width; /* 0: PAGE_WIDTH */
    int column;
    FILE *to; /* NULL: standard output */
};

/* What COLUMNS says, else the terminal on standard output, from PAGE_NARROWEST to PAGE_WIDTH;
 * PAGE_WIDTH where neither says any. */
int page_terminal_width(void);

/* The sequence that a terminal takes for it (ECMA-48, SGR). */
const char *page_colour_code(enum page_colour colour);
void page_colour(const struct page *page, enum page_colour colour);

/* Continues the line; at the edge it is cut, and "~" says so. */
void page_put(struct page *page, const char *text);
void page_put_coloured(struct page *page, enum page_colour colour, const char *text);
/* Moves on to `column`, by at least one blank where the line is not empty. */
void page_to(struct page *page, int column);
/* Puts `text` so that it ends at the right edge. */
void page_put_right(struct page *page, const char *text);
void page_end(struct page *page);

/* Puts words from here on, on as many lines as it takes, and ends the last. Later
 * lines begin at `indent`. */
void page_wrap(struct page *page, int indent, const char *text);

/* Characters, not bytes: UTF-8 continuation bytes take no column. */
int page_columns(const char *text);

#endif
