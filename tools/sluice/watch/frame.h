/* frame.h - what stands on a screen, cell by cell, and the bytes that turn one into the next.
 *
 * Over a slow line only what differs is sent. */
#ifndef SLUICE_TOOLS_WATCH_FRAME_H
#define SLUICE_TOOLS_WATCH_FRAME_H

#include <stdint.h>
#include <stdio.h>

enum { FRAME_ROWS = 100, FRAME_COLUMNS = 80, FRAME_CELL_BYTES = 5 };

struct frame_cell {
    char bytes[FRAME_CELL_BYTES]; /* one character of UTF-8; "": a blank */
    uint8_t colour;               /* enum page_colour */
};

struct frame {
    int rows; /* that were written, at most FRAME_ROWS */
    struct frame_cell cell[FRAME_ROWS][FRAME_COLUMNS];
};

/* From lines as struct page writes them, colours and all. */
void frame_read(struct frame *frame, const char *text);

/* Rows [from, from + count) of `source` become those from `at` on; what is not there is blank. */
void frame_copy(struct frame *to, int at, const struct frame *source, int from, int count);

/* What turns `before` on the screen into `now`, on its first `rows`; NULL: whatever stands there.
 */
void frame_draw(const struct frame *before, const struct frame *now, int rows, FILE *to);

#endif
