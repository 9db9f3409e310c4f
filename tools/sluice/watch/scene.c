/* scene.c - the body may be longer than the screen: then the selected load decides what of it
 * stands there. The last two lines stay: the answer or question, and the keys. */
#include "scene.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "sluice/live/say.h"
#include "sluice/live/screen.h"
#include "sluice/live/screen_load.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

enum { FOOT = 2, FINDINGS_MAX = 3, LABEL = 20, LABEL_NARROW = 12 };

/* Text under way to a frame, and the lines of the selected load in it. */
struct body {
    struct page page;
    char *text;
    size_t size;
    int selected_from, selected_to;
};

static const cJSON *load_at(const struct scene *scene, int index)
{
    return cJSON_GetArrayItem(get(scene->status, "loads"), index);
}

int scene_loads(const struct scene *scene)
{
    return cJSON_GetArraySize(get(scene->status, "loads"));
}

const char *scene_load_name(const struct scene *scene, int index)
{
    return words(load_at(scene, index), "name");
}

/* ---- power flows ------------------------------------------------------------------------------
 */

/* What the loads are known to draw; false: of one it is not known. */
static bool loads_draw_w(const struct scene *scene, int64_t *sum_w)
{
    const cJSON *load;
    *sum_w = 0;
    cJSON_ArrayForEach(load, get(scene->status, "loads"))
    {
        int64_t draw_w;
        if (number(load, "draw_w", &draw_w))
            *sum_w += draw_w;
        else if (!is(load, "output_is", "off"))
            return false;
    }
    return true;
}

static void add_flow(struct text *text, const char *name, int64_t power_w)
{
    if (power_w <= 0)
        return;
    text_add(text, "%s%s ", text->used ? " + " : "", name);
    show_power(text, power_w);
}

/* From where the power comes, and where it goes: only where the roof is metered, and the reading
 * good; all else would be a guess. */
static void print_flows(struct page *page, const struct scene *scene)
{
    const cJSON *reading = get(scene->status, "reading");
    char from_text[SCENE_TEXT_MAX], to_text[SCENE_TEXT_MAX];
    struct text from = text_in(from_text, sizeof(from_text));
    struct text to = text_in(to_text, sizeof(to_text));
    int64_t grid_w, solar_w, battery_w = 0, loads_w;
    if (!is(reading, "quality", "fresh") || !number(reading, "grid_power_w", &grid_w) ||
        !number(reading, "solar_power_w", &solar_w))
        return;
    bool has_battery = false;
    const cJSON *meter;
    cJSON_ArrayForEach(meter, get(scene->status, "meters")) has_battery |=
        is(meter, "role", "battery");
    if (!number(reading, "battery_power_w", &battery_w) && has_battery)
        return;
    add_flow(&from, "sun", solar_w);
    add_flow(&from, "grid", grid_w);
    add_flow(&from, "battery", -battery_w);
    if (loads_draw_w(scene, &loads_w)) {
        add_flow(&to, "loads", loads_w);
        add_flow(&to, "house", solar_w + grid_w - battery_w - loads_w);
    } else {
        add_flow(&to, "house and loads", solar_w + grid_w - battery_w);
    }
    add_flow(&to, "battery", battery_w);
    add_flow(&to, "grid", -grid_w);
    if (!from.used || !to.used)
        return;
    page_put(page, "flows");
    page_to(page, 14);
    text_add(&from, " -> %s", to_text);
    page_wrap(page, 14, from_text);
}

/* ---- the day's strip ----------------------------------------------------------------------------
 */

static char strip_mark(const struct strip_row *row, int from, int cells)
{
    int sum = 0;
    for (int k = from; k < from + cells; k++) {
        if (row->on_percent[k] < 0)
            return ' ';
        sum += row->on_percent[k];
    }
    return sum == 0 ? '.' : sum < 50 * cells ? '+' : '#';
}

static void print_hours(struct page *page, int label, int cells)
{
    for (int hour = 0; hour <= 24; hour += 6) {
        char text[12];
        snprintf(text, sizeof(text), "%d", hour);
        page_to(page, label + hour * 2 / cells);
        page_put(page, text);
    }
    page_end(page);
}

static void print_strip(struct page *page, const struct scene *scene)
{
    const struct strip *strip = scene->strip;
    int label = page->width < PAGE_WIDTH ? LABEL_NARROW : LABEL;
    int cells = page->width < PAGE_WIDTH ? 2 : 1;
    page_end(page);
    if (*strip->why_not) {
        page_put(page, "today's runs: ");
        page_wrap(page, 0, strip->why_not);
        return;
    }
    page_put_coloured(page, PAGE_BOLD, "Today");
    print_hours(page, label, cells);
    for (int k = 0; k < strip->count; k++) {
        struct page name = *page;
        char marks[STRIP_CELLS + 1];
        int count = 0;
        for (int cell = 0; cell < STRIP_CELLS; cell += cells)
            marks[count++] = strip_mark(&strip->row[k], cell, cells);
        marks[count] = '\0';
        name.width = label - 1;
        page_put(&name, strip->row[k].name);
        page->column = name.column;
        page_to(page, label);
        page_put(page, marks);
        page_end(page);
    }
}

/* ---- what is wrong ------------------------------------------------------------------------------
 */

static void print_findings(struct page *page, const struct scene *scene)
{
    const cJSON *finding, *findings = get(scene->status, "findings");
    int told = 0, count = cJSON_GetArraySize(findings);
    if (count > 0)
        page_end(page);
    cJSON_ArrayForEach(finding, findings)
    {
        if (told++ == FINDINGS_MAX)
            break;
        page_colour(page, PAGE_RED);
        page_put(page, "! ");
        if (*words(finding, "about")) {
            page_put(page, words(finding, "about"));
            page_put(page, ": ");
        }
        page_wrap(page, 2, words(finding, "text"));
        page_colour(page, PAGE_PLAIN);
    }
    if (count > 0)
        page_wrap(page, 0,
                  count > FINDINGS_MAX ? "more, and what to do first: sluice faults"
                                       : "what to do first: sluice faults");
}

/* ---- the three views ----------------------------------------------------------------------------
 */

static int lines_so_far(struct body *body)
{
    int lines = 0;
    fflush(body->page.to);
    for (const char *c = body->text; *c; c++)
        lines += *c == '\n';
    return lines;
}

static void write_house(struct body *body, const struct scene *scene)
{
    struct page *page = &body->page;
    int32_t today = screen_today(scene->status);
    screen_print_heading(page, scene->status);
    screen_print_house(page, scene->status);
    print_flows(page, scene);
    screen_print_orders_to_all(page, scene->status);
    page_end(page);
    for (int k = 0; k < scene_loads(scene); k++) {
        if (k == scene->selected) {
            body->selected_from = lines_so_far(body);
            page_put_coloured(page, PAGE_BOLD, ">");
        }
        screen_print_load_short(page, load_at(scene, k), today);
        if (k == scene->selected)
            body->selected_to = lines_so_far(body);
    }
    print_strip(page, scene);
    print_findings(page, scene);
}

static void write_load(struct body *body, const struct scene *scene)
{
    screen_print_heading(&body->page, scene->status);
    screen_print_load(&body->page, load_at(scene, scene->selected), get(scene->status, "findings"),
                      screen_today(scene->status));
}

static void write_help(struct body *body)
{
    static const char *const lines[] = {
        "o  runs the marked load for a time, such as \"2 h\", or \"until 17:00\"",
        "f  keeps it off, for a time or with no end time",
        "a  back to automatic: ends on and off",
        "r  all that is known of it: why it does what it does, its guarantees, today",
        "up, down, tab  marks another load",
        "?  this; any key goes back",
        "q  leaves; the daemon goes on as it was",
        "",
        "Today: # on for most of the time, + for some of it, . off or not recorded.",
        "An order with an end time ends by itself; the daemon answers each.",
        "Off is not isolation: isolate all supplies and prove dead before opening.",
        "A load may start remotely and without warning.",
    };
    for (size_t k = 0; k < sizeof(lines) / sizeof(lines[0]); k++)
        page_wrap(&body->page, 3, lines[k]);
}

static void write_body(struct body *body, const struct scene *scene)
{
    if (*scene->trouble) {
        page_colour(&body->page, PAGE_RED);
        page_wrap(&body->page, 0, scene->trouble);
        page_colour(&body->page, PAGE_PLAIN);
    }
    if (scene->view == VIEW_HELP)
        write_help(body);
    else if (scene->status && scene->view == VIEW_LOAD)
        write_load(body, scene);
    else if (scene->status)
        write_house(body, scene);
}

/* ---- the screen
 * ----------------------------------------------------------------------------------- */

static void write_foot(struct page *page, const struct scene *scene)
{
    if (scene->prompt) {
        page_put_coloured(page, PAGE_BOLD, scene->prompt);
        page_put(page, scene->typed);
        page_put(page, "_");
    } else {
        page_put(page, scene->message);
    }
    page_end(page);
    page_put_coloured(page, PAGE_DIM,
                      scene->prompt ? "enter: order   esc: back"
                      : page->width >= PAGE_WIDTH
                          ? "o on   f off   a auto   r reasons   ? help   q quit"
                          : "o on f off a auto r reasons ? help q");
    page_end(page);
}

/* The first line of the body that is shown. */
static int first_line(const struct body *body, int lines, int room)
{
    int first = body->selected_to > room ? body->selected_to - room : 0;
    if (first > body->selected_from)
        first = body->selected_from;
    return first > lines ? lines : first;
}

static void open_body(struct body *body, const struct scene *scene)
{
    int width = scene->columns < PAGE_NARROWEST ? PAGE_NARROWEST
                : scene->columns > PAGE_WIDTH   ? PAGE_WIDTH
                                                : scene->columns;
    body->page = (struct page){
        .colour = scene->colour, .width = width, .to = open_memstream(&body->text, &body->size)};
}

static void close_body(struct body *body, struct frame *frame)
{
    fclose(body->page.to);
    frame_read(frame, body->text);
    free(body->text);
}

void scene_draw(const struct scene *scene, struct frame *frame)
{
    static struct frame part; /* too large for some stacks */
    struct body body = {0}, foot = {0};
    int room = scene->rows > FOOT ? scene->rows - FOOT : 0;
    memset(frame, 0, sizeof(*frame));
    open_body(&body, scene);
    open_body(&foot, scene);
    if (body.page.to)
        write_body(&body, scene);
    if (foot.page.to)
        write_foot(&foot.page, scene);
    if (body.page.to) {
        close_body(&body, &part);
        frame_copy(frame, 0, &part, first_line(&body, part.rows, room), room);
    }
    if (foot.page.to) {
        close_body(&foot, &part);
        frame_copy(frame, room, &part, 0, FOOT);
    }
}
