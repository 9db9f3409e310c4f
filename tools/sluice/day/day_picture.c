/* day_picture.c - the sheet: heading, power, a lane for each load, the time of day,
 * and notes on why each run began and ended. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "lane_panel.h"
#include "power_panel.h"
#include "sluice/page/show.h"

enum {
    HOURS_HEIGHT = 34,
    NOTE_HEIGHT = 20,
    NOTES_MAX = 24,
    NOTE_CHARACTERS = 112,
    NOTE_TIMES = MARGIN + 30,
    NOTE_WHY = PLOT_LEFT + 150
};

static void draw_heading(struct picture *picture)
{
    const struct result *day = picture->day;
    char buffer[200];
    struct text text = text_in(buffer, sizeof(buffer));
    struct result_amount all = {0};
    for (size_t k = 0; k < day->load_count; k++) {
        struct result_amount sum = result_total(day, &day->load[k]);
        all.spare_mwh += sum.spare_mwh;
        all.grid_mwh += sum.grid_mwh;
    }
    svg_words(&picture->svg, MARGIN, 56, (struct svg_font){30, INK, SVG_START, 1}, day->site);
    show_date(&text, day->date);
    svg_words(&picture->svg, SHEET_WIDTH - MARGIN, 50, (struct svg_font){18, INK, SVG_END, 0},
              buffer);
    svg_words(&picture->svg, SHEET_WIDTH - MARGIN, 70, (struct svg_font){12, MUTED, SVG_END, 0},
              day->zone_name);
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "The loads took ");
    show_energy(&text, llround(all.spare_mwh + all.grid_mwh));
    if (all.spare_mwh + all.grid_mwh > 0)
        text_add(&text, ", %d %% of it spare solar power",
                 (int)(all.spare_mwh * 100 / (all.spare_mwh + all.grid_mwh)));
    text_add(&text, ".");
    svg_words(&picture->svg, MARGIN, 92, (struct svg_font){18, INK, SVG_START, 0}, buffer);
    svg_line(&picture->svg, MARGIN, 112, SHEET_WIDTH - MARGIN, 112, FAINT, 1.5, "");
}

/* ---- notes -------------------------------------------------------------------------------- */

struct note {
    const struct result_track *load;
    const struct result_run *run;
};

static int by_beginning(const void *a, const void *b)
{
    const struct note *first = a, *second = b;
    if (first->run->from_ms != second->run->from_ms)
        return first->run->from_ms < second->run->from_ms ? -1 : 1;
    return first->load < second->load ? -1 : first->load > second->load;
}

static size_t gather_notes(const struct result *day, struct note *notes, size_t room)
{
    size_t count = 0;
    for (size_t k = 0; k < day->load_count; k++)
        for (size_t r = 0; r < day->load[k].run_count; r++, count++)
            if (count < room)
                notes[count] = (struct note){&day->load[k], &day->load[k].run[r]};
    return count;
}

static size_t count_runs(const struct result *day)
{
    return gather_notes(day, NULL, 0);
}

/* Cuts at a character, not within one. */
static void cut(char *text, size_t most)
{
    if (strlen(text) <= most)
        return;
    while (most > 0 && ((unsigned char)text[most] & 0xc0) == 0x80)
        most--;
    memcpy(text + most, "…", sizeof("…"));
}

static void draw_note(struct picture *picture, const struct note *note, double y)
{
    const struct result *day = picture->day;
    const struct result_run *run = note->run;
    const struct svg_font plain = {13, INK, SVG_START, 0}, bold = {13, INK, SVG_START, 1};
    char buffer[2 * RESULT_TEXT_MAX + 64];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%d", picture_run_number(day, run));
    svg_words(&picture->svg, MARGIN + 18, y, (struct svg_font){13, MUTED, SVG_END, 1}, buffer);
    text = text_in(buffer, sizeof(buffer));
    picture_times(day, run, &text);
    svg_words(&picture->svg, NOTE_TIMES, y, plain, buffer);
    svg_words(&picture->svg, PLOT_LEFT, y, bold, result_title(note->load));
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%s%s%s", run->began, *run->ended ? "   →   " : "", run->ended);
    cut(buffer, NOTE_CHARACTERS);
    svg_words(&picture->svg, NOTE_WHY, y, plain, buffer);
}

static void draw_notes(struct picture *picture, double top)
{
    size_t count = count_runs(picture->day);
    struct note *notes = calloc(count + 1, sizeof(*notes));
    if (!notes)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    gather_notes(picture->day, notes, count);
    qsort(notes, count, sizeof(notes[0]), by_beginning);
    double y = top + 16;
    for (size_t k = 0; k < count && k < NOTES_MAX; k++, y += NOTE_HEIGHT)
        draw_note(picture, &notes[k], y);
    if (count > NOTES_MAX) {
        char buffer[48];
        struct text text = text_in(buffer, sizeof(buffer));
        text_add(&text, "and %zu more", count - NOTES_MAX);
        svg_words(&picture->svg, NOTE_TIMES, y, (struct svg_font){13, MUTED, SVG_START, 0}, buffer);
    }
    free(notes);
}

/* ---- the whole ------------------------------------------------------------------------------ */

void day_draw(const struct result *day, FILE *to)
{
    char title[2 * RESULT_NAME_MAX];
    struct text text = text_in(title, sizeof(title));
    size_t notes = count_runs(day);
    notes = notes > NOTES_MAX ? NOTES_MAX + 1 : notes;
    double lanes_top = POWER_TOP + POWER_HEIGHT + 8;
    double lanes_end = lanes_top + (double)day->load_count * LANE_HEIGHT;
    double height = lanes_end + HOURS_HEIGHT + 16 + (double)notes * NOTE_HEIGHT + 30;
    text_add(&text, "%s, ", day->site);
    show_date(&text, day->date);
    struct picture picture = {svg_begin(to, SHEET_WIDTH, height, title), day};
    svg_box(&picture.svg, 0, 0, SHEET_WIDTH, height, PAPER, 0);
    draw_heading(&picture);
    picture_power(&picture, POWER_TOP);
    for (size_t k = 0; k < day->load_count; k++)
        picture_lane(&picture, &day->load[k], lanes_top + (double)k * LANE_HEIGHT);
    picture_hours(&picture, lanes_end, lanes_end + HOURS_HEIGHT, true);
    draw_notes(&picture, lanes_end + HOURS_HEIGHT + 16);
    svg_end(&picture.svg);
}
