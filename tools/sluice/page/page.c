/* page.c - a line knows its column; nothing passes the right edge. */
#include "page.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static int width_of(const struct page *page)
{
    return page->width > 0 ? page->width : PAGE_WIDTH;
}

/* 0: it is not said. */
static long environment_width(void)
{
    const char *columns = getenv("COLUMNS");
    char *end = NULL;
    long width = columns ? strtol(columns, &end, 10) : 0;
    return width > 0 && *end == '\0' ? width : 0;
}

static long terminal_width(void)
{
    struct winsize size;
    return ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 ? size.ws_col : 0;
}

int page_terminal_width(void)
{
    long width = environment_width();
    if (width == 0)
        width = terminal_width();
    if (width == 0 || width > PAGE_WIDTH)
        return PAGE_WIDTH;
    return width < PAGE_NARROWEST ? PAGE_NARROWEST : (int)width;
}

static bool continues(char c)
{
    return ((unsigned char)c & 0xc0) == 0x80;
}

int page_columns(const char *text)
{
    int columns = 0;
    for (; *text; text++)
        columns += !continues(*text);
    return columns;
}

static FILE *out(const struct page *page)
{
    return page->to ? page->to : stdout;
}

const char *page_colour_code(enum page_colour colour)
{
    static const char *const codes[PAGE_COLOURS] = {[PAGE_PLAIN] = "\033[0m",
                                                    [PAGE_BOLD] = "\033[1m",
                                                    [PAGE_GREEN] = "\033[1;32m",
                                                    [PAGE_RED] = "\033[1;31m",
                                                    [PAGE_DIM] = "\033[2m"};
    return codes[colour];
}

void page_colour(const struct page *page, enum page_colour colour)
{
    if (page->colour)
        fputs(page_colour_code(colour), out(page));
}

static bool is_control(char c)
{
    return (unsigned char)c < ' ' || c == 0x7f;
}

/* `length` bytes, of which as many as the line has room for. */
static void put(struct page *page, const char *text, size_t length)
{
    int left = 0;
    for (size_t k = 0; k < length; k++)
        left += !continues(text[k]);
    for (size_t k = 0; k < length; k++) {
        if (!continues(text[k])) {
            int room = width_of(page) - page->column;
            if (room <= 0)
                return;
            if (room == 1 && left > 1) {
                putc('~', out(page));
                page->column++;
                return;
            }
            page->column++;
            left--;
        }
        putc(is_control(text[k]) ? '?' : text[k], out(page));
    }
}

void page_put(struct page *page, const char *text)
{
    put(page, text, strlen(text));
}

void page_put_coloured(struct page *page, enum page_colour colour, const char *text)
{
    page_colour(page, colour);
    page_put(page, text);
    page_colour(page, PAGE_PLAIN);
}

void page_to(struct page *page, int column)
{
    if (page->column > 0 && page->column >= column)
        column = page->column + 1;
    while (page->column < column && page->column < width_of(page)) {
        putc(' ', out(page));
        page->column++;
    }
}

void page_put_right(struct page *page, const char *text)
{
    page_to(page, width_of(page) - page_columns(text));
    page_put(page, text);
}

void page_end(struct page *page)
{
    putc('\n', out(page));
    page->column = 0;
}

void page_wrap(struct page *page, int indent, const char *text)
{
    bool first = true;
    while (*text) {
        size_t length = strcspn(text, " ");
        int columns = 0;
        for (size_t k = 0; k < length; k++)
            columns += !continues(text[k]);
        if (!first && page->column + 1 + columns > width_of(page)) {
            page_end(page);
            page_to(page, indent);
        } else if (!first) {
            page_to(page, page->column + 1);
        }
        put(page, text, length);
        first = false;
        text += length;
        text += strspn(text, " ");
    }
    page_end(page);
}
