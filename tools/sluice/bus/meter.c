/* meter.c - `sluice meter maps`, `check` and `read`: which maps there are, whether one is
 * right, and what the meter behind it says. */
#include "meter.h"

#include <stdio.h>
#include <string.h>

#include "map_shelf.h"
#include "settings/settings.h"
#include "sluice/help.h"
#include "sluice/options.h"
#include "sluice/page/page.h"

/* ---- maps: where each is from, and how far it may be trusted ----------------------------------
 */

static void print_line(struct page *page, const char *name, const char *lead, const char *text)
{
    int at = page->width < PAGE_WIDTH ? 2 : 24; /* most names are shorter; some words are long */
    page_put(page, name);
    page_to(page, at);
    page_put(page, lead);
    page_wrap(page, at, text);
}

static enum status print_map(struct page *page, const char *folder, const char *name)
{
    struct meter_map map;
    enum status status = meter_map_find(name, folder, &map);
    if (status != STATUS_DONE)
        return status;
    const char *verified = meter_verified_text(&map);
    print_line(page, map.name, "", map.title);
    print_line(page, "", "source: ", map.source);
    if (verified[0])
        print_line(page, "", "verified: ", verified);
    if (map.unsure[0])
        print_line(page, "", "unsure: ", map.unsure);
    return STATUS_DONE;
}

static enum status meter_maps(struct invocation *at, int argc, char *argv[])
{
    static char names[SETTINGS_MAPS_MAX][SETTINGS_NAME_MAX];
    const char *folder = MAPS_DEFAULT;
    const struct option_row rows[] = {{"--maps", &folder, NULL, "the folder of the meter maps"},
                                      {0}};
    enum status status = STATUS_DONE;
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "meter");
    int count = settings_maps_list(folder, names);
    if (count < 0)
        return complain(STATUS_NOT_THERE,
                        "\"%s\" cannot be read: %m; a folder of meter maps is expected (--maps "
                        "DIR)",
                        folder);
    struct page page = {.width = page_terminal_width()};
    for (int k = 0; k < count; k++) {
        enum status one = print_map(&page, folder, names[k]);
        status = one == STATUS_DONE ? status : one;
    }
    print_line(&page, "sunspec", "",
               "any SunSpec meter or inverter; the device itself lists its registers");
    return status;
}

/* ---- the command ------------------------------------------------------------------------------
 */

const char meter_help[] =
    "  maps                           each map with its source, how sure it is, and\n"
    "                                 what to look at on the meter\n"
    "  check MAP                      a map file, or the name of one that came along\n"
    "  read METER                     one of the settings; while sluiced uses its\n"
    "                                 serial port, what sluiced last read\n"
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
        return help_one(at, "meter");
    return complain_usage(at, "meter");
}
