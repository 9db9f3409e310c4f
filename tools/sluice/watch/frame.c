/* frame.c - a run of cells that differ is sent behind one jump (ECMA-48: CUP); short gaps between
 * runs are sent too, which takes fewer bytes than another jump. */
#include "frame.h"

#include <stdbool.h>
#include <string.h>

#include "sluice/page/page.h"

enum { GAP_MAX = 6 };

/* ---- reading --------------------------------------------------------------------------------- */

static size_t character_bytes(const char *text)
{
    size_t count = 1;
    while (count < FRAME_CELL_BYTES - 1 && ((unsigned char)text[count] & 0xc0) == 0x80)
        count++;
    return count;
}

/* The length of a colour's sequence that begins here; 0: none does. */
static size_t read_colour(const char *text, uint8_t *colour)
{
    for (uint8_t k = 0; k < PAGE_COLOURS; k++) {
        const char *code = page_colour_code(k);
        if (strncmp(text, code, strlen(code)) == 0) {
            *colour = k;
            return strlen(code);
        }
    }
    return 0;
}

static void put_character(struct frame *frame, int column, const char *text, size_t bytes,
                          uint8_t colour)
{
    if (column >= FRAME_COLUMNS)
        return;
    struct frame_cell *cell = &frame->cell[frame->rows][column];
    if (bytes == 1 && *text == ' ')
        return;
    memcpy(cell->bytes, text, bytes);
    cell->colour = colour;
}

void frame_read(struct frame *frame, const char *text)
{
    uint8_t colour = PAGE_PLAIN;
    int column = 0;
    memset(frame, 0, sizeof(*frame));
    while (*text && frame->rows < FRAME_ROWS) {
        size_t bytes = read_colour(text, &colour);
        if (bytes == 0 && *text == '\n') {
            frame->rows++;
            column = 0;
            bytes = 1;
        } else if (bytes == 0) {
            bytes = character_bytes(text);
            put_character(frame, column++, text, bytes, colour);
        }
        text += bytes;
    }
}

void frame_copy(struct frame *to, int at, const struct frame *source, int from, int count)
{
    for (int k = 0; k < count && at + k < FRAME_ROWS; k++)
        if (from + k < source->rows)
            memcpy(to->cell[at + k], source->cell[from + k], sizeof(to->cell[0]));
        else
            memset(to->cell[at + k], 0, sizeof(to->cell[0]));
    if (to->rows < at + count)
        to->rows = at + count < FRAME_ROWS ? at + count : FRAME_ROWS;
}

/* ---- drawing --------------------------------------------------------------------------------- */

static bool same(const struct frame_cell *a, const struct frame_cell *b)
{
    return a->colour == b->colour && strcmp(a->bytes, b->bytes) == 0;
}

/* The end of what has to be sent from `column` on: the last cell that differs before a gap. */
static int end_of_run(const struct frame_cell *before, const struct frame_cell *now, int column)
{
    int end = column + 1;
    for (int k = end; k < FRAME_COLUMNS && k - end <= GAP_MAX; k++)
        if (!same(&before[k], &now[k]))
            end = k + 1;
    return end;
}

static void send_cells(const struct frame_cell *cells, int count, FILE *to)
{
    uint8_t colour = PAGE_PLAIN;
    for (int k = 0; k < count; k++) {
        if (cells[k].colour != colour) {
            if (colour != PAGE_PLAIN)
                fputs(page_colour_code(PAGE_PLAIN), to);
            colour = cells[k].colour;
            if (colour != PAGE_PLAIN)
                fputs(page_colour_code(colour), to);
        }
        fputs(cells[k].bytes[0] ? cells[k].bytes : " ", to);
    }
    if (colour != PAGE_PLAIN)
        fputs(page_colour_code(PAGE_PLAIN), to);
}

static void draw_row(const struct frame_cell *before, const struct frame_cell *now, int row,
                     FILE *to)
{
    for (int column = 0; column < FRAME_COLUMNS; column++) {
        if (same(&before[column], &now[column]))
            continue;
        int end = end_of_run(before, now, column);
        fprintf(to, "\033[%d;%dH", row + 1, column + 1);
        send_cells(&now[column], end - column, to);
        column = end;
    }
}

void frame_draw(const struct frame *before, const struct frame *now, int rows, FILE *to)
{
    static const struct frame_cell blank[FRAME_COLUMNS];
    if (!before)
        fputs("\033[0m\033[2J", to);
    for (int row = 0; row < rows && row < FRAME_ROWS; row++)
        draw_row(before ? before->cell[row] : blank, now->cell[row], row, to);
}
