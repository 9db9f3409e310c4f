/* sunspec.c - the walk along a SunSpec device's chain of models.
 *
 * A device says what it is by a marker, behind which models follow one another:
 * id, length, and so many registers. Only the length leads from one to the next,
 * so a device that lies about it leads astray; the walk only ever goes to higher
 * addresses, past at most so many models, and so always ends. A model that tells
 * of fewer registers than its definition gives a map of what lies within it.
 *
 * Sources: github.com/sunspec/models, commit 7abdf898; places of the marker and
 * patterns of values that are not implemented: SunSpec Information Model
 * Specification. */
#include "sunspec.h"

#include <stddef.h>

#include "core/text.h"
#include "sunspec_models.h"

enum {
    MARKER_HIGH = 0x5375, /* "Su" */
    MARKER_LOW = 0x6e53,  /* "nS" */
    HEADER = 2,           /* id and length */
    ID_COMMON = 1,
    ID_END = 0xffff,
    /* Of the common model only the strings are read, which every version has. */
    MAKER_AT = 0,
    DEVICE_AT = 16,
    SERIAL_AT = 48,
    STRING_REGISTERS = 16,
    COMMON_REGISTERS = 64,
    HOPS_MAX = 100,
    REGISTERS = 65536,
};

static const uint16_t bases[] = {40000, 50000, 0};
enum { BASES = sizeof(bases) / sizeof(bases[0]) };

static const struct {
    enum meter_type type;
    uint64_t absent;
    bool zero; /* 0 means "not accumulated" */
} types[] = {
    [SUNSPEC_INT16] = {.type = METER_INT16, .absent = 0x8000},
    [SUNSPEC_UINT16] = {.type = METER_UINT16, .absent = 0xffff},
    [SUNSPEC_ENUM16] = {.type = METER_UINT16, .absent = 0xffff},
    [SUNSPEC_ACC32] = {.type = METER_UINT32, .absent = 0xffffffff, .zero = true},
    [SUNSPEC_FLOAT32] = {.type = METER_FLOAT32, .absent = 0x7fc00000},
};

static void ask(struct sunspec_walk *walk, enum sunspec_step step, uint32_t address, uint16_t count)
{
    if (address + count > REGISTERS) {
        walk->state = SUNSPEC_NOT_FOUND;
        return;
    }
    walk->step = step;
    walk->address = (uint16_t)address;
    walk->count = count;
}

void sunspec_begin(struct sunspec_walk *walk)
{
    *walk = (struct sunspec_walk){.state = SUNSPEC_ASKING};
    ask(walk, SUNSPEC_MARKER, bases[0], HEADER);
}

static void feed_marker(struct sunspec_walk *walk, const uint16_t *registers)
{
    if (registers && registers[0] == MARKER_HIGH && registers[1] == MARKER_LOW)
        ask(walk, SUNSPEC_HEADER, (uint32_t)walk->address + HEADER, HEADER);
    else if (++walk->base < BASES)
        ask(walk, SUNSPEC_MARKER, bases[walk->base], HEADER);
    else
        walk->state = SUNSPEC_NOT_FOUND;
}

/* ---- the map --------------------------------------------------------------------- */

static struct meter_point point_of(const struct sunspec_point *row, uint16_t model_at)
{
    int64_t milli = row->type == SUNSPEC_ENUM16 ? 1 : 1000; /* W, A, V, Hz, Wh to ours */
    return (struct meter_point){
        .quantity = row->quantity,
        .table = METER_HOLDING,
        .address = (uint16_t)(model_at + row->offset),
        .type = types[row->type].type,
        .order = METER_HIGH_FIRST,
        .scale_num = milli,
        .scale_den = 1,
        .scale_register = row->scale_name ? model_at + row->scale_offset : METER_NO_REGISTER,
        .scale_optional = row->scale_optional,
        .has_absent = true,
        .absent = types[row->type].absent,
        .absent_zero = types[row->type].zero,
    };
}

static bool lies_within(const struct sunspec_point *row, uint32_t registers)
{
    return row->offset + (uint32_t)meter_type_registers(types[row->type].type) <= registers &&
           row->scale_offset < registers;
}

static void write_map(struct sunspec_walk *walk, const struct sunspec_model *model, uint32_t length)
{
    struct meter_map *map = &walk->map;
    struct text name = text_in(map->name, sizeof(map->name));
    struct text title = text_in(map->title, sizeof(map->title));
    struct text source = text_in(map->source, sizeof(map->source));
    text_add(&name, "sunspec-%u", walk->model);
    text_add(&title, "%s%s%s, SunSpec model %u", walk->maker[0] ? walk->maker : "unnamed",
             walk->device[0] ? " " : "", walk->device, walk->model);
    text_add(&source, "the device's own model chain; SunSpec information models");
    for (uint8_t i = 0; i < model->point_count; i++)
        if (lies_within(&model->points[i], HEADER + length))
            map->point[map->point_count++] = point_of(&model->points[i], walk->address);
    walk->state = map->point_count > 0 ? SUNSPEC_FOUND : SUNSPEC_NOT_FOUND;
}

/* ---- the chain --------------------------------------------------------------------- */

static bool is_wanted(const struct sunspec_walk *walk, const struct sunspec_model *model)
{
    return walk->wanted == SUNSPEC_EITHER || model->inverter == (walk->wanted == SUNSPEC_INVERTER);
}

static void feed_header(struct sunspec_walk *walk, const uint16_t *registers)
{
    if (!registers || registers[0] == ID_END || registers[0] == 0 || ++walk->hops > HOPS_MAX) {
        walk->state = SUNSPEC_NOT_FOUND;
        return;
    }
    uint16_t id = registers[0], length = registers[1];
    const struct sunspec_model *model = sunspec_model(id);
    walk->next = (uint32_t)walk->address + HEADER + length;
    if (model && is_wanted(walk, model) && walk->next <= REGISTERS) {
        walk->model = id;
        write_map(walk, model, length);
    } else if (id == ID_COMMON && length >= COMMON_REGISTERS) {
        ask(walk, SUNSPEC_COMMON, (uint32_t)walk->address + HEADER, COMMON_REGISTERS);
    } else {
        ask(walk, SUNSPEC_HEADER, walk->next, HEADER);
    }
}

/* Two characters a register, padded with NULs, by some with blanks. */
static void read_string(char string[static 2 * STRING_REGISTERS + 1], const uint16_t registers[])
{
    size_t end = 0;
    for (size_t i = 0; i < 2 * STRING_REGISTERS; i++) {
        unsigned char c = (unsigned char)(registers[i / 2] >> (i % 2 ? 0 : 8));
        if (c == '\0') {
            string[i] = '\0';
            break;
        }
        string[i] = c < ' ' || c > '~' ? '?' : (char)c;
        if (c != ' ')
            end = i + 1;
    }
    string[end] = '\0';
}

static void feed_common(struct sunspec_walk *walk, const uint16_t *registers)
{
    if (registers) { /* a refusal costs only the names */
        read_string(walk->maker, registers + MAKER_AT);
        read_string(walk->device, registers + DEVICE_AT);
        read_string(walk->serial, registers + SERIAL_AT);
    }
    ask(walk, SUNSPEC_HEADER, walk->next, HEADER);
}

void sunspec_feed(struct sunspec_walk *walk, const uint16_t *registers)
{
    if (walk->state != SUNSPEC_ASKING)
        return;
    switch (walk->step) {
    case SUNSPEC_MARKER:
        feed_marker(walk, registers);
        break;
    case SUNSPEC_HEADER:
        feed_header(walk, registers);
        break;
    case SUNSPEC_COMMON:
        feed_common(walk, registers);
        break;
    }
}
