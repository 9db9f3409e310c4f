/* zone_file.c - reading the rule of a zone.
 *
 * A TZif file (RFC 8536) of version 2 or later ends with a line feed, the POSIX rule
 * and a line feed. The rule gives every change that is still to come, unless a
 * government announced exceptions: then the file's own list has later changes that
 * differ from the rule, and whoever set this zone should know. The list is read for
 * that comparison only.
 *
 * The file is the system's, but it may be damaged or somebody's own: every count and every
 * moment in it is bounded before it is reckoned with. */
#include "zone_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "core/text.h"

enum { FILE_MAX = 64 * 1024, HEADER = 44, TYPE_SIZE = 6 };
enum { ZONES_MAX = 512, ZONE_NAME_SIZE = 40 };

/* Changes from the year 10000 on are nobody's, and would not fit into milliseconds. */
static const int64_t latest_s = INT64_C(253402300800);

static uint32_t big_32(const unsigned char *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

static int64_t big_64(const unsigned char *at)
{
    return (int64_t)((uint64_t)big_32(at) << 32 | big_32(at + 4));
}

struct counts {
    uint32_t isut, isstd, leap, time, type, chars;
};

static struct counts read_counts(const unsigned char *header)
{
    return (struct counts){big_32(header + 20), big_32(header + 24), big_32(header + 28),
                           big_32(header + 32), big_32(header + 36), big_32(header + 40)};
}

/* Of a body in which a moment has `time_size` bytes: RFC 8536, section 3.2. Each term is
 * below 2^36, so that their sum fits whatever the counts are. */
static uint64_t body_size(const struct counts *n, uint64_t time_size)
{
    return n->time * time_size + n->time + (uint64_t)n->type * TYPE_SIZE + n->chars +
           n->leap * (time_size + 4) + n->isstd + n->isut;
}

static bool is_odd_change(const struct zone *zone, int64_t at_s, int32_t listed_s)
{
    struct local local = local_of_wall(zone, (struct wall){at_s * MS_PER_S});
    return (int64_t)local.day * 86400 + local.second - at_s != listed_s;
}

/* True: a listed change after now has another offset than the rule gives there. */
static bool differs_from_list(const unsigned char *bytes, size_t size, int64_t now_s,
                              const struct zone *zone)
{
    struct counts first = read_counts(bytes);
    uint64_t second_at = HEADER + body_size(&first, 4);
    if (second_at + HEADER > size)
        return false;
    struct counts n = read_counts(bytes + second_at);
    if (second_at + HEADER + body_size(&n, 8) > size)
        return false; /* from here on no count is greater than the file */
    const unsigned char *times = bytes + second_at + HEADER;
    const unsigned char *kinds = times + (size_t)n.time * 8;
    const unsigned char *types = kinds + n.time;
    for (size_t k = 0; k < n.time; k++) {
        int64_t at_s = big_64(times + k * 8);
        if (at_s < now_s || at_s >= latest_s || kinds[k] >= n.type)
            continue;
        if (is_odd_change(zone, at_s, (int32_t)big_32(types + kinds[k] * TYPE_SIZE)))
            return true;
    }
    return false;
}

static bool is_zone_name(const char *name)
{
    return name[0] != '/' && !strstr(name, "..") &&
           strspn(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_+-/") ==
               strlen(name);
}

/* The last line without its feed, or NULL. */
static char *last_line(unsigned char *bytes, size_t size)
{
    if (size < HEADER + 2 || memcmp(bytes, "TZif", 4) != 0 || bytes[size - 1] != '\n')
        return NULL;
    bytes[size - 1] = '\0';
    for (size_t k = size - 1; k-- > 0;)
        if (bytes[k] == '\n')
            return (char *)bytes + k + 1;
    return NULL;
}

bool zone_of_bytes(const char *name, unsigned char *bytes, size_t size, int64_t now_s,
                   struct zone *zone, bool *odd, struct trouble *trouble)
{
    char *rule = last_line(bytes, size);
    *odd = false;
    if (!rule)
        return trouble_set(trouble, "", "the system's file of zone %.60s has no rule in it", name);
    if (!zone_parse(rule, zone, trouble))
        return false;
    *odd = differs_from_list(bytes, size, now_s < 0 ? 0 : now_s, zone);
    return true;
}

static bool zone_of_file(const char *name, FILE *file, struct zone *zone, bool *odd,
                         struct trouble *trouble)
{
    unsigned char *bytes = malloc(FILE_MAX);
    size_t size = bytes ? fread(bytes, 1, FILE_MAX, file) : 0;
    bool ok = zone_of_bytes(name, bytes, size, (int64_t)time(NULL), zone, odd, trouble);
    free(bytes);
    return ok;
}

/* The zones that the system lists, one a line in the third column (tzfile's zone.tab). */
static size_t list_zones(char names[][ZONE_NAME_SIZE], size_t most)
{
    static const char listed[] = "/usr/share/zoneinfo/zone.tab";
    char line[256];
    size_t count = 0;
    FILE *file = fopen(listed, "re");
    while (file && count < most && fgets(line, sizeof(line), file))
        count += line[0] != '#' && sscanf(line, "%*s %*s %39s", names[count]) == 1;
    if (file)
        fclose(file);
    return count;
}

/* People know the city: "Adelaide", "new york". */
static const char *find_city(const char *name, const char *const zones[], size_t count)
{
    const char *cities[ZONES_MAX];
    char city[ZONE_NAME_SIZE];
    snprintf(city, sizeof(city), "%s", name);
    for (char *blank = city; (blank = strchr(blank, ' '));)
        *blank = '_';
    for (size_t k = 0; k < count; k++)
        cities[k] = strrchr(zones[k], '/') ? strrchr(zones[k], '/') + 1 : zones[k];
    const char *nearest = text_nearest(city, cities, count);
    for (size_t k = 0; nearest && k < count; k++)
        if (cities[k] == nearest)
            return zones[k];
    return NULL;
}

static void add_hint(const char *name, struct trouble *trouble)
{
    char(*names)[ZONE_NAME_SIZE] = calloc(ZONES_MAX, sizeof(*names));
    const char *zones[ZONES_MAX];
    size_t count = names ? list_zones(names, ZONES_MAX) : 0, used = strlen(trouble->text);
    for (size_t k = 0; k < count; k++)
        zones[k] = names[k];
    const char *nearest = text_nearest(name, zones, count);
    if (!nearest)
        nearest = find_city(name, zones, count);
    if (nearest)
        snprintf(trouble->text + used, sizeof(trouble->text) - used, "; do you mean \"%s\"?",
                 nearest);
    free(names);
}

static FILE *open_zone(const char *name)
{
    char path[160];
    struct stat found;
    snprintf(path, sizeof(path), "/usr/share/zoneinfo/%s", name);
    if (!is_zone_name(name) || stat(path, &found) != 0 || !S_ISREG(found.st_mode))
        return NULL;
    return fopen(path, "re");
}

bool zone_by_name(const char *name, struct zone *zone, bool *odd, struct trouble *trouble)
{
    char quoted[TEXT_SHORT_SIZE];
    FILE *file = open_zone(name);
    *odd = false;
    if (file) {
        bool ok = zone_of_file(name, file, zone, odd, trouble);
        fclose(file);
        return ok;
    }
    if (strpbrk(name, "0123456789") && zone_parse(name, zone, trouble))
        return true;
    trouble_set(trouble, "",
                "\"%s\" is neither a zone of this system, such as Australia/Sydney, nor a POSIX "
                "rule",
                text_shorten(quoted, name));
    add_hint(name, trouble);
    return false;
}
