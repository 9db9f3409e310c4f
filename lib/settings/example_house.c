/* example_house.c - a whole settings file: one invented house, written from the rows.
 *
 * Each setting is explained where it first stands: a row that nobody has mentioned yet is
 * written with its text and its default by the first entry that it goes with, and stands
 * as a comment where it may be left out. So a new row is in the file without a word here.
 * What follows is only what this house has of its own: its entries, and the values that
 * are neither a row's default nor its example. */
#include <stdarg.h>
#include <string.h>

#include "sections.h"
#include "sentence.h"

enum { WIDTH = 96, REMARK_COLUMN = 28, SECTIONS_MAX = 32, VALUE_SIZE = 96, UNMARKED = -1 };

struct entry {
    const char *path;   /* of its section, as in sections.c */
    const char *name;   /* for a section of names */
    const char *values; /* "KEY: VALUE" a line; "KEY:" leaves it to an entry further down */
    bool marked;        /* a comment as a whole */
    const char *text;   /* what it is here for */
};

static const struct entry house[] = {
    {.path = "site", .values = "export_limit: 5 kW\nquiet: 22:00-06:00\n"},
    {.path = "site.installer", .marked = true},
    {.path = "tariff", .values = "daily: 1.10 /day\nfeed_in: 0.05 /kWh\n"},
    {.path = "tariff.import[]"},
    {.path = "tariff.import[]", .values = "price: 0.22 /kWh\nhours: [\"22:00-07:00\"]\n"},
    {.path = "tariff.import[]",
     .values = "price: 0.45 /kWh\nhours: mon-fri 15:00-21:00\nmonths: nov-mar\n"},
    {.path = "tariff.feed_in_bands[]",
     .marked = true,
     .text = "Here exporting at noon costs something."},
    {.path = "tariff.demand[]", .marked = true},
    {.path = "tariff.controlled", .marked = true},
    {.path = "tariff.controlled.import[]", .values = "hours:\nmonths:\n"},
    {.path = "tariff.controlled.import[]",
     .values = "price: 0.15 /kWh\nhours: 00:00-05:00\nmonths: jun-aug\n"},
    {.path = "buses"},
    {.path = "buses.NAME",
     .name = "switchboard",
     .values = "port: /dev/sluice-meter\nhost:\ntcp_port:\n"},
    {.path = "buses.NAME", .name = "lan", .values = "host: 192.0.2.10\n"},
    {.path = "meters"},
    {.path = "meters.NAME", .name = "grid"},
    {.path = "meters.NAME",
     .name = "roof",
     .values = "role: solar\nbus: lan\nunit: 2\nmap: sunspec\nevery: 5 s\n"},
    {.path = "meters.NAME",
     .name = "battery",
     .values = "role: battery\nbus: switchboard\nunit: 4\nmap: eastron-sdm120\n",
     .marked = true,
     .text = "On the battery's own circuit; charging is positive, else inverted: yes."},
    {.path = "meters.NAME",
     .name = "pool-meter",
     .values = "role: load\nbus: switchboard\nunit: 3\nmap: eastron-sdm120\nload: pool-pump\n",
     .marked = true},
    {.path = "groups"},
    {.path = "groups.NAME", .name = "shed", .values = "limit: 32 A\n"},
    {.path = "loads"},
    {.path = "loads.NAME",
     .name = "water-heater",
     .values = "title: Water heater\nthermostat: yes\nhours: [\"05:00-22:00\"]\ndaily_maximum: 8 "
               "h\nheat_up: 5 h\nstart_fraction: 60 %\n"},
    {.path = "loads.NAME.water", .values = "standing_loss: 2.66 kWh\n"},
    {.path = "loads.NAME.output", .values = "bus: switchboard\naddress: 0\n"},
    {.path = "loads.NAME.floors[]",
     .text =
         "Three hours of drawing power by 17:00 each day. Hours without draw do not count; an open "
         "thermostat fulfils it. Bought in the cheapest hours it would be bought at night here, "
         "before the sun could give it."},
    {.path = "loads.NAME.floors[]",
     .values = "measure: satisfied\namount: 5 h\nevery_days: 7\nby: 17:00\n",
     .text = "Against Legionella: the whole tank hot, once a week. Store at 60 °C or above, with a "
             "tempering valve at the outlets."},
    {.path = "loads.NAME",
     .name = "charger",
     .values =
         "title: Car charger\nkind: setpoint\npriority: 2\nphases: L1\npower: 16 A\nleast: 6 A\n"
         "step: 1 A\nminimum_off: 10 min\ngroup: shed\n"},
    {.path = "loads.NAME.output",
     .values = "kind: register\nbus: lan\nunit: 20\naddress: 100\ncount_current: 100 mA\n"
               "on_value:\noff_value:\n"},
    {.path = "loads.NAME.floors[]",
     .values = "measure: energy\namount: 8 kWh\nby: 06:30\ndays: mon-fri\ngrid: cheapest_hours\n"},
    {.path = "loads.NAME",
     .name = "pool-pump",
     .values = "title: Pool pump\npriority: 3\nphases: L1\npower: 1.1 kW\nmotor: yes\n"
               "hours: [\"08:00-20:00\"]\ngroup: shed\n"},
    {.path = "loads.NAME.output", .values = "kind: coil\nbus: switchboard\nunit: 10\naddress: 1\n"},
    {.path = "loads.NAME.floors[]", .values = "amount: 2 h\nby: 20:00\n"},
    {.path = "loads.NAME",
     .name = "shed-heater",
     .values = "kind: staged\nstages: [1 kW, 1 kW, 1 kW]\n",
     .marked = true,
     .text = "A heater in three steps, a relay for each: its floors are measured as energy."},
    {.path = "loads.NAME.output",
     .values = "kind: coil\nbus: switchboard\nunit: 10\naddress: [2, 3, 4]\n"},
    {.path = "loads.NAME",
     .name = "heat-pump",
     .values = "kind: request\npower: 1.8 kW\n",
     .marked = true,
     .text = "A heat pump's start contact. It obeys in its own time; its supply stays on, for its "
             "crankcase heater and its frost protection."},
    {.path = "loads.NAME.output",
     .values = "kind: register\nbus: lan\nunit: 30\naddress: 40\non_value: 2\noff_value: 1\n"},
    {.path = "loads.NAME",
     .name = "towel-rail",
     .values = "power: 500 W\n",
     .marked = true,
     .text = "By messages over the broker below. Such a load may have no floor: what is guaranteed "
             "must not depend on a broker."},
    {.path = "loads.NAME.output",
     .values = "kind: topic\ntopic: bathroom/rail/set\nstate_topic: bathroom/rail/state\n"},
    {.path = "loads.NAME",
     .name = "fountain",
     .values = "power: 200 W\n",
     .marked = true,
     .text = "By a GPIO line of this computer."},
    {.path = "loads.NAME.output", .values = "kind: line\nline: 17\n"},
    {.path = "inputs"},
    {.path = "inputs.NAME",
     .name = "hot-water-now",
     .values = "role: button\nload: water-heater\nbus: switchboard\naddress: 0\n",
     .text = "A push-button in the bathroom, on an input of the relay board."},
    {.path = "inputs.NAME",
     .name = "heater-contact",
     .values = "role: contact\nload: water-heater\nbus: switchboard\nunit: 10\naddress: 1\n",
     .marked = true,
     .text = "An auxiliary contact of the heater's contactor: tells it from a dead element."},
    {.path = "inputs.NAME",
     .name = "pump-in-hand",
     .values = "role: in_hand\nload: pool-pump\nkind: line\nline: 22\npull: up\n"
               "active_low: yes\n",
     .marked = true,
     .text = "A hand-off-auto switch; with a second input of role at_off, or in_auto, both of its "
             "other positions are told apart."},
    {.path = "inputs.NAME",
     .name = "plumbing",
     .values = "role: inhibit\nload: water-heater\nbus: switchboard\nunit: 10\naddress: 2\n",
     .marked = true,
     .text = "A key switch that keeps the heater off while somebody works on the pipes. It is not "
             "isolation."},
    {.path = "sensors", .marked = true},
    {.path = "sensors.NAME",
     .name = "tank",
     .values = "load: water-heater\n",
     .text = "A 1-wire part in a pocket of the tank; with probe: yes under water."},
    {.path = "sensors.NAME",
     .name = "tank-ntc",
     .values = "kind: ntc\nload: water-heater\n"
               "file: /sys/bus/iio/devices/iio:device0/in_voltage0_raw\n",
     .text = "Or a thermistor at an ADC."},
    {.path = "sensors.NAME",
     .name = "tank-topic",
     .values = "kind: topic\nload: water-heater\n",
     .text = "Or what another device publishes."},
    {.path = "lamp", .marked = true},
    {.path = "gateway", .values = "allow: [192.0.2.7]\n", .marked = true},
    {.path = "gateway.serve[]", .text = "Its own registers, as they are."},
    {.path = "gateway.serve[]",
     .values = "view: sunspec\nmeter: grid\nunit: 126\n",
     .text = "The same as a SunSpec meter, for whoever reads nothing else."},
    {.path = "mqtt"},
    {.path = "storage"},
    {.path = "quote"},
};
enum { ENTRIES = sizeof(house) / sizeof(house[0]) };

static const char heading[] =
    "# sluice.yaml - the settings of one invented house, with every setting explained.\n"
    "#\n"
    "# Copy it to /etc/sluice/sluice.yaml and make it yours; most of it may be left out.\n"
    "#   sluice check FILE   what is wrong with it, or in sentences what each load will do\n"
    "#   sluice explain KEY  one setting: unit, range, default\n"
    "#   sluice reload       reads a changed file; one with errors changes nothing\n"
    "#\n"
    "# Quantities carry their unit: 3.6 kW, 10 min, 63 A, 80 %. Clock times and hours that\n"
    "# stand alone are quoted: \"17:00\". Yes and no are yes and no. Names are a-z, 0-9 and\n"
    "# hyphens.\n"
    "#\n"
    "# Before you wire anything: OFF IS NOT ISOLATION. An open contactor, a load that is off,\n"
    "# inhibited or in its fail state isolates nothing: isolate all supplies and prove dead.\n"
    "# Work on the switchboard is licensed work. Thermostat, thermal cut-out, relief valve,\n"
    "# RCD and fuses stay in circuit. Never switch the supply of a heat pump, a charger or an\n"
    "# inverter: they get a request or a set-point. Store hot water at 60 °C or above. See the\n"
    "# README.\n";

struct writer {
    FILE *to;
    const struct section *section[SECTIONS_MAX];
    int count;
    uint64_t written[SECTIONS_MAX]; /* of each section's rows, a bit each */
    const struct entry *marked;     /* what is inside it is a comment too; NULL: nothing */
    bool below_head;                /* the last line was a key that leads to the next */
    bool below_tall;                /* or a row with its text above it */
};

/* ---- lines ------------------------------------------------------------------------------------
 */

/* A path's depth: where its keys stand, and what leads to them. */
static int key_indent(const char *path)
{
    int indent = 2;
    for (const char *at = path; *at; at++)
        indent += *at == '.' || *at == '[' ? 2 : 0;
    return indent;
}

/* In characters, not bytes. */
static int columns_of(const char *text)
{
    int columns = 0;
    for (; *text; text++)
        columns += (*text & 0xc0) != 0x80;
    return columns;
}

static bool is_list(const char *path)
{
    return path[strlen(path) - 1] == ']';
}

static int head_indent(const char *path)
{
    return key_indent(path) - (is_list(path) ? 4 : 2);
}

static int mark_column(const struct writer *writer)
{
    return writer->marked ? head_indent(writer->marked->path) : UNMARKED;
}

static void write_line(struct writer *writer, int mark, int indent, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
static void write_line(struct writer *writer, int mark, int indent, const char *format, ...)
{
    va_list arguments;
    if (mark >= 0)
        fprintf(writer->to, "%*s#%*s", mark, "", indent - mark, "");
    else
        fprintf(writer->to, "%*s", indent, "");
    va_start(arguments, format);
    vfprintf(writer->to, format, arguments);
    va_end(arguments);
    fputc('\n', writer->to);
    writer->below_head = writer->below_tall = false;
}

static void write_comment(struct writer *writer, int mark, int indent, const char *text)
{
    while (text && *text) {
        size_t length = sentence_line(text, (size_t)(WIDTH - 2 - indent));
        write_line(writer, mark, indent, "# %.*s", (int)length, text);
        text += length + strspn(text + length, " ");
    }
}

/* Sets off what follows; not just below a head, and not in what is a comment as a whole. */
static void write_blank(const struct writer *writer)
{
    if (!writer->below_head && !writer->marked)
        fputc('\n', writer->to);
}

/* ---- what is written of a row ---------------------------------------------------------------- */

static bool is_path(const struct writer *writer, int s, const char *path)
{
    return strcmp(writer->section[s]->path, path) == 0;
}

/* "floors[]", of the row `floors`. */
static bool begins_item(const char *part, const char *key)
{
    size_t length = strlen(key);
    return strncmp(part, key, length) == 0 && strcmp(part + length, "[]") == 0;
}

static bool begins_key(const char *line, const char *key)
{
    size_t length = strlen(key);
    return strncmp(line, key, length) == 0 && line[length] == ':';
}

/* The house's own value; "": left to a later entry; NULL: it has none. */
static const char *own_value(const struct entry *entry, const char *key,
                             char value[static VALUE_SIZE])
{
    for (const char *line = entry->values; line && *line; line = strchr(line, '\n') + 1) {
        if (!begins_key(line, key))
            continue;
        line += strlen(key) + 1;
        line += *line == ' ';
        snprintf(value, VALUE_SIZE, "%.*s", (int)strcspn(line, "\n"), line);
        return value;
    }
    return NULL;
}

/* Whether the row goes with the kind of this entry. */
static bool goes_with(const struct entry *entry, const struct setting_rows *rows,
                      const struct setting_row *row)
{
    const struct setting_row *kind = &rows->row[0];
    char value[VALUE_SIZE];
    const char *word = own_value(entry, kind->key, value);
    if (!row->only)
        return true;
    if (!word)
        word = kind->example ? kind->example : kind->initial;
    for (const struct setting_choice *choice = kind->choices; choice->word; choice++)
        if (strcmp(choice->word, word) == 0)
            return row->only >> choice->value & 1;
    return false;
}

/* A row that stands for a section of its own, which follows. */
static bool is_section(const struct writer *writer, const char *section,
                       const struct setting_row *row)
{
    char path[VALUE_SIZE];
    snprintf(path, sizeof(path), "%s.%s[]", section, row->key);
    for (int s = 0; s < writer->count; s++)
        if (strcmp(writer->section[s]->path, path) == 0)
            return true;
    return false;
}

/* What is written for it; NULL: nothing. `marked`: it may be left out, and is a comment. */
static const char *value_of(const struct writer *writer, const struct entry *entry, int s, size_t k,
                            char value[static VALUE_SIZE], bool *marked)
{
    const struct setting_row *row = &writer->section[s]->rows->row[k];
    const char *own = own_value(entry, row->key, value);
    *marked = false;
    if (is_section(writer, writer->section[s]->path, row) ||
        !goes_with(entry, writer->section[s]->rows, row))
        return NULL;
    if (own)
        return *own ? own : NULL;
    if (writer->written[s] >> k & 1)
        return NULL;
    *marked = row->initial && !*row->initial && !writer->marked;
    return row->example ? row->example : row->initial;
}

static const char *quote_of(const char *value)
{
    return strchr(value, ':') && !strchr("\"[{", value[0]) ? "\"" : "";
}

/* Its text has been read before, perhaps of the same row in another section. */
static bool is_told(const struct writer *writer, const struct setting_row *row)
{
    for (int s = 0; s < writer->count; s++)
        for (size_t k = 0; k < writer->section[s]->rows->count; k++)
            if (writer->written[s] >> k & 1 &&
                strcmp(writer->section[s]->rows->row[k].key, row->key) == 0 &&
                strcmp(writer->section[s]->rows->row[k].text, row->text) == 0)
                return true;
    return false;
}

/* Calls `each` for every row that the entry has a value for. */
typedef void each_row(struct writer *writer, const struct entry *entry, int s, size_t k,
                      const char *value, bool marked, void *context);
static void for_each_row(struct writer *writer, const struct entry *entry, each_row *each,
                         void *context)
{
    for (int s = 0; s < writer->count; s++)
        for (size_t k = 0; is_path(writer, s, entry->path) && k < writer->section[s]->rows->count;
             k++) {
            char buffer[VALUE_SIZE];
            bool marked;
            const char *value = value_of(writer, entry, s, k, buffer, &marked);
            if (value)
                each(writer, entry, s, k, value, marked, context);
        }
}

/* "word  what choosing it does", a line or more for each. */
static void write_choices(struct writer *writer, int indent, const struct setting_choice *choice)
{
    size_t width = 0;
    for (const struct setting_choice *each = choice; each && each->word; each++)
        width = strlen(each->word) > width ? strlen(each->word) : width;
    for (; choice && choice->word; choice++) {
        const char *word = choice->word, *text = choice->text;
        while (*text) {
            size_t length = sentence_line(text, (size_t)(WIDTH - 6 - indent) - width);
            write_line(writer, mark_column(writer), indent, "#   %-*s %.*s", (int)width, word,
                       (int)length, text);
            text += length + strspn(text + length, " ");
            word = "";
        }
    }
}

/* A short text stands behind the value, a longer one above it. */
static void write_row(struct writer *writer, const struct entry *entry, int s, size_t k,
                      const char *value, bool marked, void *context)
{
    const struct setting_row *row = &writer->section[s]->rows->row[k];
    bool *item = context, told = is_told(writer, row); /* *item: the list's "-" is due */
    int indent = key_indent(entry->path) - (*item ? 2 : 0);
    int mark = marked ? indent : mark_column(writer);
    char line_buffer[SENTENCE_SIZE], text_buffer[SENTENCE_SIZE];
    struct text line = text_in(line_buffer, sizeof(line_buffer));
    struct text text = text_in(text_buffer, sizeof(text_buffer));
    text_add(&line, "%s%s: %s%s%s", *item ? "- " : "", row->key, quote_of(value), value,
             quote_of(value));
    text_add(&text, "%s", row->text);
    if (row->initial && *row->initial && strcmp(row->initial, value) != 0)
        text_add(&text, " Default: %s.", row->initial);
    int column = indent + (marked ? 1 : 0) + columns_of(line_buffer);
    int pad = column + 1 < REMARK_COLUMN ? REMARK_COLUMN - column : 1;
    bool behind = !told && !row->choices && column + pad + 2 + columns_of(text_buffer) <= WIDTH;
    bool above = !told && !behind;
    if (above || writer->below_tall)
        write_blank(writer);
    if (above) {
        write_comment(writer, mark_column(writer), indent, text_buffer);
        write_choices(writer, indent, row->choices);
    }
    write_line(writer, mark, indent, "%s%*s%s%s", line_buffer, behind ? pad : 0, "",
               behind ? "# " : "", behind ? text_buffer : "");
    writer->written[s] |= UINT64_C(1) << k;
    writer->below_tall = above;
    *item = false;
}

/* ---- a short entry: in braces, on one line -----------------------------------------------------
 */

struct braces {
    struct text text;
    bool new; /* there is something to explain, which takes lines */
};

static void add_pair(struct writer *writer, const struct entry *entry, int s, size_t k,
                     const char *value, bool marked, void *context)
{
    struct braces *braces = context;
    (void)entry;
    (void)marked;
    braces->new |= !(writer->written[s] >> k & 1);
    text_add(&braces->text, "%s%s: %s%s%s", braces->text.used ? ", " : "",
             writer->section[s]->rows->row[k].key, quote_of(value), value, quote_of(value));
}

static bool is_within(const char *path, const char *outer)
{
    size_t length = strlen(outer);
    return strncmp(path, outer, length) == 0 && path[length] == '.';
}

static bool fits_braces(struct writer *writer, int index, char pairs[static SENTENCE_SIZE])
{
    const struct entry *entry = &house[index];
    struct braces braces = {.text = text_in(pairs, SENTENCE_SIZE)};
    if (index + 1 < ENTRIES && is_within(house[index + 1].path, entry->path))
        return false;
    for_each_row(writer, entry, add_pair, &braces);
    return strchr(entry->path, '.') && !braces.new &&braces.text.used > 0 &&
           key_indent(entry->path) + (int)braces.text.used + 12 <= WIDTH;
}

/* ---- an entry ----------------------------------------------------------------------------------
 */

/* What the section, or the row that stands for the list, is for; NULL once that was said.
 * Of entries under names it stands above them all. */
static const char *text_of_section(const struct writer *writer, const struct entry *entry)
{
    const char *path = entry->path, *text = NULL;
    if (entry->name)
        return NULL;
    for (int s = 0; s < writer->count; s++) {
        size_t length = strlen(writer->section[s]->path);
        if (is_path(writer, s, path) && writer->written[s])
            return NULL;
        if (writer->section[s]->text &&
            (is_path(writer, s, path) ||
             (is_within(writer->section[s]->path, path) && !strchr(path, '.'))))
            text = text ? text : writer->section[s]->text;
        for (size_t k = 0; is_list(path) && is_within(path, writer->section[s]->path) &&
                           k < writer->section[s]->rows->count;
             k++)
            if (begins_item(path + length + 1, writer->section[s]->rows->row[k].key))
                text = writer->section[s]->rows->row[k].text;
    }
    return text;
}

/* A section of the file begins. */
static void write_ruler(struct writer *writer, const char *path)
{
    static const char dashes[] =
        "----------------------------------------------------------------------------------------";
    fprintf(writer->to, "\n# ---- %s %.*s\n", path, WIDTH - 8 - (int)strlen(path), dashes);
    writer->below_head = true;
}

static void write_head(struct writer *writer, const struct entry *entry, int mark, const char *key,
                       const char *pairs)
{
    bool braces = pairs[0] != '\0';
    write_line(writer, mark, head_indent(entry->path), "%s:%s%s%s", key, braces ? " {" : "", pairs,
               braces ? "}" : "");
    writer->below_head = !braces;
}

/* "output" of "loads.NAME.output", "floors" of the list "loads.NAME.floors[]". */
static const char *own_key(const struct entry *entry, char key[static VALUE_SIZE])
{
    const char *dot = strrchr(entry->path, '.'), *last = dot ? dot + 1 : entry->path;
    snprintf(key, VALUE_SIZE, "%.*s", (int)strcspn(last, "["), last);
    return entry->name ? entry->name : key;
}

static void write_entry(struct writer *writer, int index)
{
    const struct entry *entry = &house[index];
    const char *text = text_of_section(writer, entry);
    bool list = is_list(entry->path);
    bool again = list && index > 0 && strcmp(house[index - 1].path, entry->path) == 0;
    char key[VALUE_SIZE], pairs[SENTENCE_SIZE];
    if (writer->marked && !again && !is_within(entry->path, writer->marked->path))
        writer->marked = NULL;
    int indent = head_indent(entry->path), comment = mark_column(writer);
    bool braces = fits_braces(writer, index, pairs);
    if (!strchr(entry->path, '.'))
        write_ruler(writer, entry->path);
    else if (!braces || text || entry->text)
        write_blank(writer);
    if (entry->marked)
        writer->marked = entry;
    write_comment(writer, comment, indent, text);
    if (list && !again)
        write_head(writer, entry, mark_column(writer), own_key(entry, key), "");
    write_comment(writer, list ? mark_column(writer) : comment, indent + (list ? 2 : 0),
                  entry->text);
    if (list && braces)
        write_line(writer, mark_column(writer), indent + 2, "- {%s}", pairs);
    else if (!list)
        write_head(writer, entry, mark_column(writer), own_key(entry, key), braces ? pairs : "");
    if (!braces)
        for_each_row(writer, entry, write_row, &list);
}

void settings_example(const struct section *more, FILE *to)
{
    struct writer writer = {.to = to};
    const struct section *section;
    while (writer.count < SECTIONS_MAX && (section = section_at(more, writer.count)))
        writer.section[writer.count++] = section;
    fputs(heading, to);
    for (int k = 0; k < ENTRIES; k++)
        write_entry(&writer, k);
}
