/* bus.c - `sluice bus listen` and `sluice bus scan`: what is on a serial line. */
#include "bus.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "settings/settings.h"

/* ---- maps ------------------------------------------------------------------------------ */

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

/* ---- words ------------------------------------------------------------------------------ */

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

const char bus_help[] =
    "  listen PORT         what another master polls, with decoded values, live; at\n"
    "                      the end what of the map it never polls, and sections\n"
    "                      for the settings. The port is opened for reading alone:\n"
    "                      nothing can be sent\n"
    "    --baud N          else found by whole frames, as is the parity\n"
    "    --parity WORD     none, even or odd\n"
    "    --unit N          only polls of this unit\n"
    "    --map NAME        how to decode it; else found by its replies\n"
    "    --for TIME        how long; else until Ctrl-C\n"
    "    --exchanges N     or after so many\n"
    "  scan PORT           listens first, and stops if another master polls; then\n"
    "                      tries units, speeds and parities, the likely ones first.\n"
    "                      Prints the sections for the settings\n"
    "    --listen TIME     how long to listen first (30 s)\n"
    "    --answer TIME     how long a unit may take to begin its answer (300 ms)\n"
    "  --maps DIR          where meter maps (register lists, one file a model) are:\n"
    "                      without them values are not decoded and models not known\n"
    "                      (/etc/sluice/meters)\n"
    "\n"
    "Stop sluiced first where it uses the same port.\n";

enum status bus_main(struct invocation *at, int argc, char *argv[])
{
    const char *what = argc > 1 ? argv[1] : "";
    if (strcmp(what, "--help") == 0)
        return help_one("bus");
    if (strcmp(what, "listen") != 0 && strcmp(what, "scan") != 0)
        return complain_usage("bus");
    argv[1] = argv[0]; /* for help, both are one command */
    return strcmp(what, "listen") == 0 ? bus_listen(at, argc - 1, argv + 1)
                                       : bus_scan(at, argc - 1, argv + 1);
}
