/* meter_maps.c - `sluice meter maps`: which register maps there are, where each is from, and
 * how far it may be trusted. */
#include <stdio.h>

#include "meter.h"
#include "settings/settings.h"
#include "sluice/options.h"

#define MAPS_DEFAULT "/etc/sluice/meters"

static enum status print_map(const char *folder, const char *name)
{
    struct meter_map map;
    enum status status = meter_map_find(name, folder, &map);
    if (status != STATUS_DONE)
        return status;
    printf("%s: %s\n  source: %s\n", map.name, map.title, map.source);
    meter_sureness_print(&map, "  ");
    return STATUS_DONE;
}

enum status meter_maps(struct invocation *at, int argc, char *argv[])
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
        return complain_usage("meter");
    int count = settings_maps_list(folder, names);
    if (count < 0)
        return complain(STATUS_NOT_THERE,
                        "\"%s\" cannot be read: %m; a folder of meter maps is expected (--maps "
                        "DIR)",
                        folder);
    for (int k = 0; k < count; k++) {
        enum status one = print_map(folder, names[k]);
        status = one == STATUS_DONE ? status : one;
    }
    printf("sunspec: any SunSpec meter or inverter; the device itself lists its registers\n");
    return status;
}
