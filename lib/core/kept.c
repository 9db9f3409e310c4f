/* kept.c - a struct to lines and back, each value within its row's bounds. */
#include "kept.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "moment.h"

enum { KEY_MAX = 64 };

static const char sum_key[] = "sum=";

/* ---- fields ------------------------------------------------------------------ */

static int64_t field_read(const struct kept_row *row, const void *at)
{
    const char *field = (const char *)at + row->offset;
    int64_t wide = 0;
    int32_t narrow = 0;
    uint16_t word = 0;
    uint8_t byte = 0;
    switch (row->size) {
    case sizeof(wide):
        return memcpy(&wide, field, sizeof(wide)), wide;
    case sizeof(narrow):
        return memcpy(&narrow, field, sizeof(narrow)), narrow;
    case sizeof(word):
        return memcpy(&word, field, sizeof(word)), word;
    default:
        return memcpy(&byte, field, sizeof(byte)), byte;
    }
}

static void field_write(const struct kept_row *row, void *at, int64_t value)
{
    char *field = (char *)at + row->offset;
    int32_t narrow = (int32_t)value;
    uint16_t word = (uint16_t)value;
    uint8_t byte = (uint8_t)value;
    switch (row->size) {
    case sizeof(value):
        memcpy(field, &value, sizeof(value));
        break;
    case sizeof(narrow):
        memcpy(field, &narrow, sizeof(narrow));
        break;
    case sizeof(word):
        memcpy(field, &word, sizeof(word));
        break;
    default:
        memcpy(field, &byte, sizeof(byte));
        break;
    }
}

/* As it is written. */
static int64_t to_text(const struct kept_row *row, const void *at, int64_t t)
{
    int64_t value = field_read(row, at);
    if (row->kind == KEPT_AGE)
        return t - value;
    if (row->kind == KEPT_LEFT)
        return value == MONO_NEVER.ms ? -1 : value > t ? value - t : 0;
    return value;
}

/* `value` is within bounds, so no sum here overflows. */
static int64_t from_text(const struct kept_row *row, int64_t value, int64_t t, int64_t away_ms)
{
    if (row->kind == KEPT_AGE)
        return t - value - away_ms;
    if (row->kind == KEPT_LEFT)
        return value < 0 ? MONO_NEVER.ms : value > away_ms ? t + value - away_ms : t;
    return value;
}

/* ---- bounds ------------------------------------------------------------------ */

static bool is_within(const struct kept_row *row, int64_t value)
{
    return value >= row->least && value <= row->greatest;
}

static void tell(struct text *told, const char *prefix, const char *key)
{
    if (told)
        text_add(told, "%s%s%s", told->used ? ", " : "", prefix, key);
}

/* False: the field stays, or becomes again, what it was at the beginning. */
static bool put_right(const struct kept_row *row, int64_t *value)
{
    if (row->beyond == KEPT_BEGINS)
        return false;
    bool below = *value < row->least && row->beyond == KEPT_NEAREST;
    *value = below ? row->least : row->greatest;
    return true;
}

void kept_bound(const struct kept_rows *rows, const char *prefix, void *at, const void *begun,
                int64_t t, struct text *told)
{
    for (size_t k = 0; k < rows->count; k++) {
        const struct kept_row *row = &rows->row[k];
        int64_t value = to_text(row, at, t);
        if (is_within(row, value))
            continue;
        tell(told, prefix, row->key);
        if (put_right(row, &value))
            field_write(row, at, from_text(row, value, t, 0));
        else
            field_write(row, at, field_read(row, begun));
    }
}

/* ---- lines ------------------------------------------------------------------- */

void kept_write(const struct kept_rows *rows, const char *prefix, const void *at, int64_t t,
                struct text *text)
{
    for (size_t k = 0; k < rows->count; k++)
        text_add(text, "%s%s=%" PRId64 "\n", prefix, rows->row[k].key,
                 to_text(&rows->row[k], at, t));
}

/* What stands behind "key=" at the beginning of a line, or NULL. */
static const char *find(const char *text, const char *key)
{
    size_t length = strlen(key);
    for (const char *line = text; line && *line;) {
        if (strncmp(line, key, length) == 0 && line[length] == '=')
            return line + length + 1;
        line = strchr(line, '\n');
        if (line)
            line++;
    }
    return NULL;
}

/* A whole number and nothing behind it. */
static bool parse(const char *at, int64_t *value)
{
    char *end;
    errno = 0;
    *value = strtoll(at, &end, 10);
    return end != at && errno == 0 && (*end == '\n' || *end == '\0');
}

bool kept_value(const char *text, const char *key, int64_t *value)
{
    const char *at = find(text, key);
    return at && parse(at, value);
}

void kept_read(const struct kept_rows *rows, const char *prefix, const char *text, void *at,
               int64_t t, int64_t away_ms, struct text *told)
{
    for (size_t k = 0; k < rows->count; k++) {
        const struct kept_row *row = &rows->row[k];
        char key[KEY_MAX];
        int64_t value;
        snprintf(key, sizeof(key), "%s%s", prefix, row->key);
        const char *found = find(text, key);
        if (!found)
            continue;
        bool number = parse(found, &value);
        if (!number || !is_within(row, value))
            tell(told, prefix, row->key);
        if (number && (is_within(row, value) || put_right(row, &value)))
            field_write(row, at, from_text(row, value, t, away_ms));
    }
}

/* ---- the sum ------------------------------------------------------------------ */

/* CRC-32 of IEEE 802.3, least significant bit first (polynomial reversed: 0xedb88320): it
 * finds every single byte that was changed. */
static uint32_t crc_of(const char *bytes, size_t length)
{
    uint32_t crc = 0xffffffffu;
    for (size_t k = 0; k < length; k++) {
        crc ^= (uint8_t)bytes[k];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ (crc & 1 ? 0xedb88320u : 0);
    }
    return ~crc;
}

void kept_seal(struct text *text)
{
    text_add(text, "%s%" PRIu32 "\n", sum_key, crc_of(text->at, text->used));
}

enum kept_state kept_check(const char *text)
{
    const char *line = text, *at = text;
    while ((at = strstr(at, sum_key))) {
        line = at; /* the last one */
        at += sizeof(sum_key) - 1;
    }
    if (strncmp(line, sum_key, sizeof(sum_key) - 1) != 0)
        return KEPT_UNSEALED;
    char written[32];
    snprintf(written, sizeof(written), "%s%" PRIu32 "\n", sum_key,
             crc_of(text, (size_t)(line - text)));
    return strcmp(line, written) == 0 ? KEPT_WHOLE : KEPT_DAMAGED;
}
