/* meter.c - `sluice meter maps`, `check` and `read`: which maps there are, whether one is
 * right, and what the meter behind it says. */
#include "meter.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "settings/settings.h"

/* ---- maps ------------------------------------------------------------------------------ */

static enum status report(const char *path, const struct settings_troubles *troubles)
{
    for (int k = 0; k < troubles->count; k++)
        fprintf(stderr, "%s: %s\n", troubles->item[k].place[0] ? troubles->item[k].place : path,
                troubles->item[k].text);
    fprintf(stderr, "%s: %d mistake%s; no meter could be read with it\n", path, troubles->count,
            troubles->count == 1 ? "" : "s");
    return STATUS_REFUSED;
}

static bool is_path(const char *name)
{
    size_t length = strlen(name);
    return strchr(name, '/') || (length > 5 && strcmp(name + length - 5, ".yaml") == 0);
}

enum status meter_map_find(const char *name, const char *folder, struct meter_map *map)
{
    char path[4096];
    struct settings_troubles troubles = {0};
    if (is_path(name))
        snprintf(path, sizeof path, "%s", name);
    else
        snprintf(path, sizeof path, "%s/%s.yaml", folder, name);
    FILE *file = fopen(path, "re");
    if (!file)
        return complain(STATUS_NOT_THERE,
                        "\"%s\" cannot be read: %m; a meter's map is expected, by the name of its "
                        "file in %s or by its path (--maps DIR is another folder)",
                        path, folder);
    fclose(file);
    enum status status =
        settings_map_load(path, map, &troubles) ? STATUS_DONE : report(path, &troubles);
    settings_troubles_free(&troubles);
    return status;
}

/* ---- words ------------------------------------------------------------------------------ */

const char *meter_type_word(enum meter_type type)
{
    static const char *const words[] = {
        [METER_INT16] = "int16",     [METER_UINT16] = "uint16",   [METER_INT32] = "int32",
        [METER_UINT32] = "uint32",   [METER_INT64] = "int64",     [METER_UINT64] = "uint64",
        [METER_FLOAT32] = "float32", [METER_FLOAT64] = "float64",
    };
    return words[type];
}

void meter_sureness_print(const struct meter_map *map, const char *lead)
{
    static const char *const texts[] = {
        [METER_VERIFIED_READ] = "compared with the published sources that it names",
        [METER_VERIFIED_MEMORY] = "from memory, not read in a source: compare with the meter's "
                                  "display before a load depends on it",
    };
    if (map->verified != METER_VERIFIED_UNSAID)
        printf("%sverified: %s\n", lead, texts[map->verified]);
    if (map->unsure[0])
        printf("%sunsure: %s\n", lead, map->unsure);
}

struct shown {
    const char *unit;
    int64_t holds; /* of the inside unit; a power of ten */
};

static struct shown shown_as(enum meter_quantity quantity)
{
    if (quantity <= METER_POWER_L3)
        return (struct shown){" W", 1000};
    if (quantity <= METER_CURRENT_L3)
        return (struct shown){" A", 1000};
    if (quantity <= METER_VOLTAGE_L3)
        return (struct shown){" V", 1000};
    switch (quantity) {
    case METER_FREQUENCY:
        return (struct shown){" Hz", 1000};
    case METER_IMPORT_ENERGY:
    case METER_EXPORT_ENERGY:
        return (struct shown){" kWh", 1000000};
    case METER_BATTERY_CHARGE:
        return (struct shown){" %", 10};
    case METER_TEMPERATURE:
        return (struct shown){" °C", 1000};
    default:
        return (struct shown){"", 1};
    }
}

void meter_value_write(enum meter_quantity quantity, int64_t value, struct text *text)
{
    struct shown shown = shown_as(quantity);
    int64_t whole = value / shown.holds, rest = value % shown.holds;
    text_add(text, "%s%" PRId64, value < 0 && whole == 0 ? "-" : "", whole);
    rest = rest < 0 ? -rest : rest;
    for (int64_t step = shown.holds / 10; rest > 0; step /= 10) {
        text_add(text, "%s%d", step == shown.holds / 10 ? "." : "", (int)(rest / step));
        rest %= step;
    }
    text_add(text, "%s", shown.unit);
}

bool meter_number(const char *option, const char *word, int64_t least, int64_t most, int64_t *value)
{
    struct trouble trouble;
    if (quantity_parse(QUANTITY_COUNT, word, value, &trouble) && *value >= least && *value <= most)
        return true;
    complain(STATUS_USAGE, "%s: \"%s\" is not a whole number from %" PRId64 " to %" PRId64, option,
             word, least, most);
    return false;
}

const char meter_help[] =
    "  maps                           each map with its source, how sure it is, and\n"
    "                                 what to look at on the meter\n"
    "  check MAP                      a map file, or the name of one that came along\n"
    "  read METER                     one of the settings, asked beside the daemon\n"
    "  read --map MAP --tcp HOST:PORT, or --serial PORT,BAUD,PARITY\n"
    "                                 one that stands in no settings\n"
    "  --unit N                       its unit\n"
    "  --every TIME                   again and again\n"
    "  --times N                      so many times\n"
    "  --answer TIME                  how long it may take to begin its answer\n"
    "  --settings FILE                where METER stands\n"
    "                                 (/etc/sluice/sluice.yaml)\n"
    "  --baud N                       check: for the time on the wire\n"
    "  --maps DIR                     the folder of the meter maps, for MAP by name\n"
    "                                 (/etc/sluice/meters)\n";

enum status meter_main(struct invocation *at, int argc, char *argv[])
{
    static const struct {
        const char *word;
        enum status (*run)(struct invocation *at, int argc, char *argv[]);
    } rows[] = {{"maps", meter_maps}, {"check", meter_check}, {"read", meter_read}};
    for (size_t k = 0; argc > 1 && k < sizeof rows / sizeof rows[0]; k++)
        if (strcmp(argv[1], rows[k].word) == 0) {
            argv[1] = argv[0]; /* for help, they are one command */
            return rows[k].run(at, argc - 1, argv + 1);
        }
    if (argc > 1 && strcmp(argv[1], "--help") == 0)
        return help_one("meter");
    return complain_usage("meter");
}
