/* map_shelf.c - meter maps by name and by folder, and words for lines and values. */
#include "map_shelf.h"

#include <dirent.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "settings/settings.h"

/* ---- one map ------------------------------------------------------------------------------ */

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

/* ---- words for values
 * ------------------------------------------------------------------------------ */

const char *meter_type_word(enum meter_type type)
{
    static const char *const words[] = {
        [METER_INT16] = "int16",     [METER_UINT16] = "uint16",   [METER_INT32] = "int32",
        [METER_UINT32] = "uint32",   [METER_INT64] = "int64",     [METER_UINT64] = "uint64",
        [METER_FLOAT32] = "float32", [METER_FLOAT64] = "float64",
    };
    return words[type];
}

const char *meter_verified_text(const struct meter_map *map)
{
    static const char *const texts[] = {
        [METER_VERIFIED_UNSAID] = "",
        [METER_VERIFIED_READ] =
            "compared with the published sources that it names; not tried on a meter",
        [METER_VERIFIED_MEMORY] = ("from memory, not read in a source: compare with the meter's "
                                   "display before a load depends on it"),
    };
    return texts[map->verified];
}

void meter_sureness_print(const struct meter_map *map, const char *lead)
{
    const char *verified = meter_verified_text(map);
    if (verified[0])
        printf("%sverified: %s\n", lead, verified);
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

/* ---- all maps of a folder
 * ------------------------------------------------------------------------------ */

static bool is_map(const struct dirent *entry)
{
    size_t length = strlen(entry->d_name);
    return length > strlen(".yaml") && strcmp(entry->d_name + length - 5, ".yaml") == 0;
}

static void add_map(struct map_shelf *shelf, const char *folder, const char *file)
{
    char path[4096];
    struct settings_troubles troubles = {0};
    struct meter_map *grown = realloc(shelf->map, (shelf->count + 1) * sizeof *shelf->map);
    if (!grown)
        return;
    shelf->map = grown;
    snprintf(path, sizeof path, "%s/%s", folder, file);
    if (settings_map_load(path, &shelf->map[shelf->count], &troubles))
        shelf->count++;
    settings_troubles_free(&troubles);
}

/* By name, so that two runs say the same. */
static int by_name(const void *a, const void *b)
{
    const struct meter_map *first = a, *second = b;
    return strcmp(first->name, second->name);
}

void shelf_read(struct map_shelf *shelf, const char *folder)
{
    const struct dirent *entry;
    DIR *dir = opendir(folder);
    *shelf = (struct map_shelf){0};
    while (dir && (entry = readdir(dir)))
        if (is_map(entry))
            add_map(shelf, folder, entry->d_name);
    if (dir)
        closedir(dir);
    else
        fprintf(stderr,
                "sluice: no meter maps in \"%s\": values are not decoded and models not "
                "recognised; give their folder with --maps DIR\n",
                folder);
    if (shelf->count > 0)
        qsort(shelf->map, shelf->count, sizeof *shelf->map, by_name);
}

void shelf_free(struct map_shelf *shelf)
{
    free(shelf->map);
}

const struct meter_map *shelf_find(const struct map_shelf *shelf, const char *name)
{
    for (size_t i = 0; i < shelf->count; i++)
        if (strcmp(shelf->map[i].name, name) == 0)
            return &shelf->map[i];
    return NULL;
}

/* ---- words for lines
 * ------------------------------------------------------------------------------ */

void print_sections(const struct bus_settings *settings, uint8_t unit, const char *map)
{
    printf("buses:\n  meter:\n    port: \"%s\"\n", settings->port);
    if (settings->mode == BUS_LISTEN)
        printf("    mode: listen\n");
    printf("    baud: %d\n    parity: %s\n    stop_bits: %d\n", (int)settings->baud,
           parity_word(settings->parity), settings->stop_bits);
    printf("meters:\n  grid:\n    role: grid\n    bus: meter\n    unit: %u\n    map: %s\n", unit,
           map);
}

bool word_read(const char *option, enum quantity_kind kind, const char *word, int64_t least,
               int64_t most, int64_t *value)
{
    struct trouble trouble;
    char buffer[64];
    struct text text = text_in(buffer, sizeof buffer);
    if (!quantity_parse(kind, word, value, &trouble)) {
        complain(STATUS_USAGE, "%s: \"%s\" is not %s", option, word,
                 kind == QUANTITY_DURATION_MS ? "a duration such as 30 s or 2 min"
                                              : quantity_expected(kind));
        return false;
    }
    if (*value >= least && *value <= most)
        return true;
    quantity_write(kind, least, &text);
    text_add(&text, " to ");
    quantity_write(kind, most, &text);
    complain(STATUS_USAGE, "%s: \"%s\" is not in the range of %s", option, word, buffer);
    return false;
}
