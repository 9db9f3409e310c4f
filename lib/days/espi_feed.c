/* espi_feed.c - an entry is known by its links: ".../UsagePoint/01/MeterReading/02" is a
 * reading's own, and it is "related" to ".../ReadingType/07". Entries may come in any order,
 * so all of them are read before the first value is. */
#include "days/espi_feed.h"

#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "days/report.h"
#include "days/xml.h"

enum kind { KIND_NONE, KIND_POINT, KIND_READING, KIND_TYPE, KIND_ZONE, KIND_BLOCK };

/* What is between its begin and its end: an entry, or an element that stands alone. */
struct entry {
    bool open;
    enum kind kind;
    char title[DAYS_NAME_SIZE];
    size_t line;
    struct espi_links links;
    struct espi_type type;
    int32_t service, zone_offset_s;
};

struct look {
    const struct days_file *file;
    struct espi_feed *feed;
    struct entry entry;
};

static bool stop(const struct look *look, size_t line, const char *what)
{
    days_stop(look->file->report, look->file->path, line, "%s", what);
    return false;
}

/* ---- links ------------------------------------------------------------------------------ */

/* What follows `collection`, to the next "/". False: too long. */
static bool take_id(const char *link, const char *collection, char id[static ESPI_ID_SIZE])
{
    const char *at = strstr(link, collection);
    if (!at)
        return true;
    at += strlen(collection);
    size_t length = strcspn(at, "/?#");
    if (length == 0)
        return true;
    if (length >= ESPI_ID_SIZE)
        return false;
    memcpy(id, at, length);
    id[length] = '\0';
    return true;
}

bool espi_links_take(struct espi_links *links, const char *const *attributes)
{
    const char *link = "";
    for (; attributes[0]; attributes += 2)
        if (strcmp(attributes[0], "href") == 0)
            link = attributes[1];
    return take_id(link, "UsagePoint/", links->point) &&
           take_id(link, "MeterReading/", links->reading) &&
           take_id(link, "ReadingType/", links->type);
}

/* ---- entries ---------------------------------------------------------------------------- */

static void begin_entry(struct look *look, bool open, size_t line)
{
    look->entry = (struct entry){
        .open = open,
        .line = line,
        .type = {.flow = -1, .unit = -1, .behaviour = -1, .interval_s = -1},
        .service = -1,
    };
}

static enum kind kind_of(const char *name)
{
    static const struct {
        const char *name;
        enum kind kind;
    } kinds[] = {{"UsagePoint", KIND_POINT},
                 {"MeterReading", KIND_READING},
                 {"ReadingType", KIND_TYPE},
                 {"LocalTimeParameters", KIND_ZONE},
                 {"IntervalBlock", KIND_BLOCK}};
    for (size_t k = 0; k < sizeof(kinds) / sizeof(kinds[0]); k++)
        if (strcmp(name, kinds[k].name) == 0)
            return kinds[k].kind;
    return KIND_NONE;
}

static bool begin_element(void *context, const char *name, const char *const *attributes,
                          size_t line)
{
    struct look *look = context;
    enum kind kind = kind_of(name);
    if (strcmp(name, "entry") == 0)
        begin_entry(look, true, line);
    else if (kind != KIND_NONE && !look->entry.open)
        begin_entry(look, false, line);
    if (kind != KIND_NONE)
        look->entry.kind = kind;
    if (strcmp(name, "link") == 0 && look->entry.open &&
        !espi_links_take(&look->entry.links, attributes))
        return stop(look, line, "a link with an id of over 63 characters");
    return true;
}

/* Where the element's number goes, in an entry of this kind; NULL: nowhere. */
static int32_t *place_of(struct entry *entry, const char *name)
{
    const struct {
        enum kind kind;
        const char *name;
        int32_t *place;
    } places[] = {
        {KIND_TYPE, "flowDirection", &entry->type.flow},
        {KIND_TYPE, "uom", &entry->type.unit},
        {KIND_TYPE, "powerOfTenMultiplier", &entry->type.power_of_ten},
        {KIND_TYPE, "accumulationBehaviour", &entry->type.behaviour},
        {KIND_TYPE, "intervalLength", &entry->type.interval_s},
        {KIND_POINT, "kind", &entry->service},
        {KIND_ZONE, "tzOffset", &entry->zone_offset_s},
    };
    for (size_t k = 0; k < sizeof(places) / sizeof(places[0]); k++)
        if (entry->kind == places[k].kind && strcmp(name, places[k].name) == 0)
            return places[k].place;
    return NULL;
}

static bool keep_point(struct look *look)
{
    struct espi_feed *feed = look->feed;
    if (feed->point_count == ESPI_MAX)
        return stop(look, look->entry.line, "over 64 connection points");
    struct espi_point *point = &feed->point[feed->point_count++];
    memcpy(point->id, look->entry.links.point, sizeof(point->id));
    memcpy(point->title, look->entry.title, sizeof(point->title));
    point->service = look->entry.service;
    return true;
}

static bool keep_type(struct look *look)
{
    struct espi_feed *feed = look->feed;
    if (feed->type_count == ESPI_MAX)
        return stop(look, look->entry.line, "over 64 reading types");
    feed->type[feed->type_count] = look->entry.type;
    memcpy(feed->type[feed->type_count++].id, look->entry.links.type, ESPI_ID_SIZE);
    return true;
}

static bool keep_reading(struct look *look)
{
    struct espi_feed *feed = look->feed;
    if (feed->reading_count == ESPI_MAX)
        return stop(look, look->entry.line, "over 64 meter readings");
    struct espi_reading *reading = &feed->reading[feed->reading_count++];
    reading->line = look->entry.line;
    memcpy(reading->point, look->entry.links.point, ESPI_ID_SIZE);
    memcpy(reading->id, look->entry.links.reading, ESPI_ID_SIZE);
    memcpy(reading->type, look->entry.links.type, ESPI_ID_SIZE);
    memcpy(reading->title, look->entry.title, sizeof(reading->title));
    return true;
}

static bool keep(struct look *look)
{
    enum kind kind = look->entry.kind;
    look->entry.open = false;
    look->entry.kind = KIND_NONE;
    switch (kind) {
    case KIND_POINT:
        return keep_point(look);
    case KIND_READING:
        return keep_reading(look);
    case KIND_TYPE:
        return keep_type(look);
    case KIND_ZONE:
        look->feed->any_zone = true;
        look->feed->zone_offset_s = look->entry.zone_offset_s;
        return true;
    case KIND_BLOCK:
        look->feed->any_block = true;
        return true;
    case KIND_NONE:
        break;
    }
    return true;
}

static bool end_element(void *context, const char *name, const char *text, size_t line)
{
    struct look *look = context;
    struct entry *entry = &look->entry;
    int32_t *place = place_of(entry, name);
    char *end = NULL;
    if (place) {
        long number = strtol(text, &end, 10);
        if (end == text || *end || number < -1000000 || number > 100000000) {
            days_stop(look->file->report, look->file->path, line,
                      "%s \"%.40s\": a whole number is expected", name, text);
            return false;
        }
        *place = (int32_t)number;
    } else if (strcmp(name, "title") == 0 && entry->open && entry->kind == KIND_NONE) {
        struct text title = text_in(entry->title, sizeof(entry->title));
        text_add_foreign(&title, text, strlen(text));
    }
    bool whole = entry->open ? strcmp(name, "entry") == 0
                             : entry->kind != KIND_NONE && kind_of(name) == entry->kind;
    return !whole || keep(look);
}

bool espi_feed_read(const struct days_file *file, struct espi_feed *feed)
{
    static const struct days_xml_reader reader = {begin_element, end_element};
    struct look look = {.file = file, .feed = feed};
    *feed = (struct espi_feed){0};
    return days_xml_read(file->path, &reader, &look, file->report);
}
