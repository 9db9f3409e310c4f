/* diagram.c - from left to right: the board, its lines, what answers on them, contactors, loads.
 * Mains runs down a bar of its own, drawn thick; what only carries signals is thin and dashed.
 * A row is a meter or a contactor; a line's box spans its rows. */
#include "diagram.h"

#include <inttypes.h>
#include <string.h>

#include "output/backend.h"
#include "sluice/page/sheet.h"
#include "sluice/page/show.h"
#include "sluice/page/svg.h"
#include "wiring.h"

enum {
    WIDTH = 1000,
    ROW = 54,
    GROUP_LEAST = 64,
    GAP = 14,
    TOP = 12,
    TOP_BOX = 56,
    FIRST_ROW = 104,
    BOARD_X = 8,
    BOARD_WIDTH = 128,
    LINE_X = 176,
    LINE_WIDTH = 196,
    UNIT_X = 412,
    UNIT_WIDTH = 186,
    BAR_X = 626,
    SWITCH_X = 660,
    SWITCH_WIDTH = 124,
    LOAD_X = 816,
    LOAD_WIDTH = 176,
    FIT_MAX = 96,
};
#define SMALL 10.5
#define MAINS "#4a453e"
#define SIGNAL "#6287ad"

struct drawing {
    struct svg svg;
    const struct settings *settings;
    struct wiring wiring;
};

/* ---- boxes -------------------------------------------------------------------------------- */

/* As many columns as the box has room for; "..." says that there is more. */
static const char *fit(char buffer[static FIT_MAX], const char *text, double width, double size)
{
    size_t columns = (size_t)(width / (size * 0.6)), at = 0, cut = 0, k = 0;
    for (; text[at] && k < columns && at < FIT_MAX - 8; k++) {
        if (k + 3 == columns)
            cut = at;
        do
            at++;
        while ((text[at] & 0xc0) == 0x80);
    }
    snprintf(buffer, FIT_MAX, "%.*s%s", (int)(text[at] ? cut : at), text, text[at] ? "..." : "");
    return buffer;
}

static void draw_frame(struct svg *svg, double x, double y, double width, double height, bool sure)
{
    svg_box(svg, x, y, width, height, sure ? INK : MUTED, 4);
    svg_box(svg, x + 1, y + 1, width - 2, height - 2, sure ? "#ffffff" : BACKDROP, 3);
}

/* Up to four lines, the first bold; "" ends them. */
static void draw_box(struct svg *svg, double x, double y, double width, double height,
                     const char *const lines[])
{
    char buffer[FIT_MAX];
    int count = 0;
    while (lines[count] && lines[count][0])
        count++;
    draw_frame(svg, x, y, width, height, true);
    double at = y + height / 2 - (count - 1) * 6.5 + 4;
    for (int k = 0; k < count; k++, at += 13)
        svg_words(svg, x + 8, at,
                  (struct svg_font){k ? SMALL : 12, k ? MUTED : INK, SVG_START, k == 0},
                  fit(buffer, lines[k], width - 12, k ? SMALL : 13));
}

static void draw_signal(struct svg *svg, double x1, double x2, double y)
{
    svg_line(svg, x1, y, x2, y, SIGNAL, 1.4, "5 3");
}

static void draw_mains(struct svg *svg, double x1, double y1, double x2, double y2)
{
    svg_line(svg, x1, y1, x2, y2, MAINS, 3.5, "");
}

/* ---- the supplies, above ------------------------------------------------------------------- */

static const struct meter_settings *meter_of(const struct settings *settings, enum meter_role role)
{
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == role)
            return &settings->meters[k];
    return NULL;
}

static void draw_unstated(struct svg *svg, double x, double width, const char *what)
{
    draw_frame(svg, x, TOP, width, TOP_BOX, false);
    svg_words(svg, x + 8, TOP + 25, (struct svg_font){12, MUTED, SVG_START, 1}, what);
    svg_words(svg, x + 8, TOP + 39, (struct svg_font){SMALL, MUTED, SVG_START, 0}, "not stated");
}

/* Another supply, joined to the bar; drawn pale where the settings name none. */
static void draw_source(struct drawing *drawing, double x, double width, enum meter_role role,
                        const char *what, bool stated)
{
    const struct meter_settings *meter = meter_of(drawing->settings, role);
    char name[64] = "";
    struct text text = text_in(name, sizeof(name));
    if (!meter && !stated) {
        draw_unstated(&drawing->svg, x, width, what);
        return;
    }
    text_add(&text, meter ? "read by meter %s" : "not read", meter ? meter->name : "");
    draw_box(&drawing->svg, x, TOP, width, TOP_BOX, (const char *const[]){what, name, "", NULL});
    draw_mains(&drawing->svg, x + width / 2, TOP + TOP_BOX, x + width / 2, TOP + TOP_BOX + 14);
    draw_mains(&drawing->svg, x + width / 2, TOP + TOP_BOX + 14, BAR_X, TOP + TOP_BOX + 14);
}

static void draw_supplies(struct drawing *drawing)
{
    const struct rules_settings *rules = &drawing->settings->rules;
    const struct meter_settings *grid = meter_of(drawing->settings, ROLE_GRID);
    char phases[64], limit[64] = "limit not stated", name[64];
    struct text text = text_in(phases, sizeof(phases));
    text_add(&text, "%u phase%s, ", rules->phase_count, rules->phase_count == 1 ? "" : "s");
    quantity_write(QUANTITY_VOLTAGE_MV, rules->voltage_mv, &text);
    text = text_in(limit, sizeof(limit));
    if (rules->supply_limit_ma > 0) {
        quantity_write(QUANTITY_CURRENT_MA, rules->supply_limit_ma, &text);
        text_add(&text, " a phase");
    } else {
        text_add(&text, "limit not stated");
    }
    text = text_in(name, sizeof(name));
    text_add(&text, "%s%s", grid ? grid->name : "", grid && grid->inverted ? ", inverted" : "");
    draw_mains(&drawing->svg, BOARD_X, TOP + TOP_BOX / 2.0, BAR_X, TOP + TOP_BOX / 2.0);
    draw_box(&drawing->svg, BOARD_X, TOP, BOARD_WIDTH, TOP_BOX,
             (const char *const[]){"Grid", phases, "", NULL});
    draw_box(&drawing->svg, LINE_X, TOP, LINE_WIDTH, TOP_BOX,
             (const char *const[]){"Main switch", limit, "", NULL});
    draw_box(&drawing->svg, UNIT_X, TOP, UNIT_WIDTH, TOP_BOX,
             (const char *const[]){"Grid meter", name, "", NULL});
    draw_source(drawing, SWITCH_X, 150, ROLE_SOLAR, "Solar", rules->solar);
    draw_source(drawing, SWITCH_X + 166, WIDTH - 8 - SWITCH_X - 166, ROLE_BATTERY, "Battery",
                rules->battery);
}

/* ---- one row: what answers on a line, and what it switches ----------------------------------- */

static void draw_meter(struct drawing *drawing, const struct meter_settings *meter, double y)
{
    char name[64], about[80], map[64];
    struct text text = text_in(name, sizeof(name));
    text_add(&text, "Meter %s", meter->name);
    text = text_in(about, sizeof(about));
    text_add(&text, "unit %u, reads %s%s%s", meter->unit,
             meter->role == ROLE_LOAD ? "" : wiring_role(meter->role),
             meter->role == ROLE_LOAD || meter->role == ROLE_TANK ? " " : "", meter->load);
    text = text_in(map, sizeof(map));
    text_add(&text, "map %s", meter->map_name);
    draw_signal(&drawing->svg, LINE_X + LINE_WIDTH, UNIT_X, y + ROW / 2.0);
    draw_box(&drawing->svg, UNIT_X, y + 3, UNIT_WIDTH, ROW - 6,
             (const char *const[]){name, about, map, "", NULL});
}

static void write_channel(const struct output_settings *output, int contactor, struct text *name,
                          struct text *about)
{
    const struct backend *backend = backend_of(output);
    if (!backend->on_bus) {
        text_add(name, "%s", backend->on_broker ? "Topic" : "Output line");
        backend->name(output, (uint8_t)contactor, about);
        return;
    }
    text_add(name, "Unit %u", output->unit);
    text_add(about, "%s %u%s", backend->word, output->address[contactor],
             output->read_back ? ", read back" : ", not read back");
}

static void draw_channel(struct drawing *drawing, uint16_t load, int contactor, double y)
{
    const struct output_settings *output = &drawing->settings->outputs[load];
    char name[64], about[160];
    struct text of_name = text_in(name, sizeof(name)), of_about = text_in(about, sizeof(about));
    write_channel(output, contactor, &of_name, &of_about);
    draw_signal(&drawing->svg, LINE_X + LINE_WIDTH, UNIT_X, y + ROW / 2.0);
    draw_signal(&drawing->svg, UNIT_X + UNIT_WIDTH, SWITCH_X, y + ROW / 2.0 - 7);
    draw_box(&drawing->svg, UNIT_X, y + 3, UNIT_WIDTH, ROW - 6,
             (const char *const[]){name, about, "", NULL});
}

/* What hangs behind a topic, the settings do not say. */
static const char *switch_word(const struct output_settings *output)
{
    if (backend_of(output)->on_broker)
        return "Switch";
    return output->normally_closed ? "Contactor (NC)" : "Contactor";
}

/* Mains comes from the bar through the contactor; where none switches it, straight to the load. */
static void draw_switch(struct drawing *drawing, uint16_t load, int contactor, double y)
{
    const struct load_settings *settings = &drawing->settings->loads[load];
    const struct rules_settings *rules = &drawing->settings->rules;
    double mains_y = y + ROW / 2.0 + 9;
    char amps[32];
    struct text text = text_in(amps, sizeof(amps));
    draw_mains(&drawing->svg, BAR_X, mains_y, LOAD_X, mains_y);
    svg_circle(&drawing->svg, BAR_X, mains_y, 4.5, MAINS);
    if (wiring_contactors(settings) == 0) {
        draw_box(&drawing->svg, SWITCH_X, y + 3, SWITCH_WIDTH, ROW - 22,
                 (const char *const[]){
                     settings->kind == LOAD_REQUEST ? "Start contact" : "Set-point", "", NULL});
        draw_signal(&drawing->svg, SWITCH_X + SWITCH_WIDTH, LOAD_X, y + ROW / 2.0 - 7);
        return;
    }
    wiring_write_amps(wiring_phase_ma(rules, settings, wiring_contactor_w(settings, contactor)),
                      &text);
    text_add(&text, " a phase");
    draw_box(&drawing->svg, SWITCH_X, y + 3, SWITCH_WIDTH, ROW - 6,
             (const char *const[]){switch_word(&drawing->settings->outputs[load]), amps, "", NULL});
}

static int rows_of_load(const struct settings *settings, uint16_t load)
{
    int contactors = wiring_contactors(&settings->loads[load]);
    return contactors > 0 ? contactors : 1;
}

static void draw_load(struct drawing *drawing, uint16_t load, double y)
{
    const struct load_settings *settings = &drawing->settings->loads[load];
    int rows = rows_of_load(drawing->settings, load);
    char power[64], kind[64];
    struct text text = text_in(power, sizeof(power));
    show_power(&text, settings->power_w);
    text_add(&text, " on %s", wiring_phases(settings->phases));
    text = text_in(kind, sizeof(kind));
    text_add(&text, "priority %u%s", settings->priority, settings->motor ? ", motor" : "");
    for (int k = 0; k < rows; k++) {
        draw_channel(drawing, load, k, y + k * ROW);
        draw_switch(drawing, load, k, y + k * ROW);
    }
    draw_box(&drawing->svg, LOAD_X, y + 3, LOAD_WIDTH, rows * ROW - 6,
             (const char *const[]){drawing->settings->names[load].title, power, kind, "", NULL});
}

/* ---- a line and all that hangs on it -----------------------------------------------------------
 */

static bool has_meter(const struct wiring_group *group, const struct meter_settings *meter)
{
    return group->what == WIRING_BUS && meter->bus_index == group->bus;
}

static double group_height(const struct drawing *drawing, const struct wiring_group *group)
{
    const struct settings *settings = drawing->settings;
    int rows = 0;
    for (uint8_t k = 0; k < settings->meter_count; k++)
        rows += has_meter(group, &settings->meters[k]);
    for (uint16_t k = 0; k < settings->rules.load_count; k++)
        rows += wiring_has_load(group, settings, k) ? rows_of_load(settings, k) : 0;
    return rows * ROW > GROUP_LEAST ? rows * ROW : GROUP_LEAST;
}

static void draw_line_box(struct drawing *drawing, const struct wiring_group *group, double y,
                          double height)
{
    const struct bus_settings *bus = &drawing->settings->buses[group->bus];
    const struct mqtt_settings *mqtt = &drawing->settings->mqtt;
    char name[64], where[160], how[64] = "", more[64] = "";
    struct text of_name = text_in(name, sizeof(name)), of_where = text_in(where, sizeof(where));
    struct text of_how = text_in(how, sizeof(how)), of_more = text_in(more, sizeof(more));
    if (group->what == WIRING_BUS) {
        text_add(&of_name, "Bus %s", bus->name);
        text_add(&of_where, "%s", bus->port[0] ? bus->port : bus->host);
        if (bus->port[0])
            text_add(&of_how, "Modbus RTU, %" PRId32 " 8%c%u", bus->baud,
                     parity_letter(bus->parity), bus->stop_bits);
        else
            text_add(&of_how, "Modbus TCP, port %" PRId32, bus->tcp_port);
        text_add(&of_more, "%s", bus->mode == BUS_LISTEN ? "listened to: sends nothing" : "");
    } else if (group->what == WIRING_BROKER) {
        text_add(&of_name, "Broker (MQTT)");
        text_add(&of_where, "%s, port %" PRId32, mqtt->host, mqtt->port);
        text_add(&of_how, "%s%s", mqtt->tls ? "TLS, " : "",
                 mqtt->accept_orders ? "takes orders" : "takes no orders");
    } else {
        text_add(&of_name, "Output lines");
        text_add(&of_where, "GPIO of the board");
    }
    draw_signal(&drawing->svg, BOARD_X + BOARD_WIDTH, LINE_X, y + height / 2);
    draw_box(&drawing->svg, LINE_X, y + 3, LINE_WIDTH, height - 6,
             (const char *const[]){name, where, how, more, "", NULL});
}

static void draw_group(struct drawing *drawing, const struct wiring_group *group, double y)
{
    const struct settings *settings = drawing->settings;
    draw_line_box(drawing, group, y, group_height(drawing, group));
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (has_meter(group, &settings->meters[k])) {
            draw_meter(drawing, &settings->meters[k], y);
            y += ROW;
        }
    for (uint16_t k = 0; k < settings->rules.load_count; k++)
        if (wiring_has_load(group, settings, k)) {
            draw_load(drawing, k, y);
            y += rows_of_load(settings, k) * ROW;
        }
}

/* ---- all ------------------------------------------------------------------------------------- */

static double all_height(const struct drawing *drawing)
{
    double height = 0;
    for (int k = 0; k < drawing->wiring.count; k++)
        height += group_height(drawing, &drawing->wiring.group[k]) + GAP;
    return height - GAP;
}

/* The bar ends at the last load. */
static double bar_end(const struct drawing *drawing)
{
    double y = FIRST_ROW, end = TOP + TOP_BOX + 14;
    for (int g = 0; g < drawing->wiring.count; g++) {
        const struct wiring_group *group = &drawing->wiring.group[g];
        double at = y;
        for (uint8_t k = 0; k < drawing->settings->meter_count; k++)
            at += has_meter(group, &drawing->settings->meters[k]) ? ROW : 0;
        for (uint16_t k = 0; k < drawing->settings->rules.load_count; k++)
            if (wiring_has_load(group, drawing->settings, k)) {
                at += rows_of_load(drawing->settings, k) * ROW;
                end = at - ROW / 2.0 + 9;
            }
        y += group_height(drawing, group) + GAP;
    }
    return end;
}

static void draw_board(struct drawing *drawing, double height)
{
    char served[64] = "";
    struct text text = text_in(served, sizeof(served));
    const struct gateway_settings *gateway = &drawing->settings->gateway;
    if (gateway->enabled)
        text_add(&text, "meter for others");
    draw_box(&drawing->svg, BOARD_X, FIRST_ROW + 3, BOARD_WIDTH, height - 6,
             (const char *const[]){"Board", "runs sluiced", served, "", NULL});
}

void diagram_draw(const struct settings *settings, FILE *to)
{
    struct drawing drawing = {.settings = settings};
    wiring_of(settings, &drawing.wiring);
    double height = all_height(&drawing), y = FIRST_ROW;
    drawing.svg = svg_begin_inline(to, WIDTH, FIRST_ROW + height + 6, "The house as fitted");
    draw_mains(&drawing.svg, BAR_X, TOP + TOP_BOX / 2.0, BAR_X, bar_end(&drawing));
    draw_supplies(&drawing);
    draw_board(&drawing, height);
    for (int k = 0; k < drawing.wiring.count; k++) {
        draw_group(&drawing, &drawing.wiring.group[k], y);
        y += group_height(&drawing, &drawing.wiring.group[k]) + GAP;
    }
    svg_end(&drawing.svg);
}
