/* kind.c - the kinds of load.
 *
 * A load of one level (switched, request) takes its power whenever it is on; a staged one the
 * sum of its closed contactors; a set-point what it is told. Each contactor of a staged load has
 * its own minimum on and off, kept by the load's last raise and last lowering. */
#include "kind.h"

#include "turn.h"

enum { ADJUST_MS = 10 * MS_PER_S }; /* section 13 */

static void write_power(int32_t power_w, struct text *text)
{
    quantity_write(QUANTITY_POWER_W, power_w, text);
}

/* ---- one level ------------------------------------------------------------------ */

static void keep_own(const struct load_settings *load, struct load_memory *memory)
{
    memory->stage = 0;
    memory->level_w = load_power_w(load, memory);
}

static void describe_switched(const struct load_settings *load, const char *phases,
                              struct text *text)
{
    write_power(load->power_w, text);
    text_add(text, " on %s, by one contactor.", phases);
}

static void describe_request(const struct load_settings *load, const char *phases,
                             struct text *text)
{
    write_power(load->power_w, text);
    text_add(text, " on %s; a start contact that it obeys in its own time.", phases);
}

/* ---- stages --------------------------------------------------------------------- */

static int32_t stages_w(const struct load_settings *load, uint8_t stages)
{
    int32_t power_w = 0;
    for (uint8_t k = 0; k < stages && k < load->stages; k++)
        power_w += load->stage_w[k];
    return power_w;
}

static int32_t first_stage_w(const struct load_settings *load, const struct load_memory *memory)
{
    (void)memory;
    return load->stage_w[0];
}

static int32_t closed_stages_w(const struct load_settings *load, const struct load_memory *memory)
{
    return memory ? stages_w(load, memory->stage) : 0;
}

static int32_t all_stages_w(const struct load_settings *load, const struct load_memory *memory)
{
    (void)memory;
    return stages_w(load, load->stages);
}

static uint8_t stages_within(const struct load_settings *load, int64_t power_w)
{
    uint8_t stages = 1;
    while (stages < load->stages && stages_w(load, (uint8_t)(stages + 1)) <= power_w)
        stages++;
    return stages;
}

static struct step step_stages(const struct load_settings *load, const struct load_memory *memory,
                               enum basis basis, int64_t target_w)
{
    uint8_t wanted = stages_within(load, target_w), stage = memory->stage;
    int64_t at_ms = 0;
    if (wanted > stage && basis != BASIS_MINIMUM_ON) {
        stage++;
        at_ms = maximum_64(memory->lowered.ms + load->min_off_ms,
                           memory->level_since.ms + load->settle_start_ms);
    } else if (wanted < stage && basis != BASIS_MINIMUM_ON) {
        stage--;
        at_ms = maximum_64(memory->raised.ms + load->min_on_ms,
                           memory->level_since.ms + load->settle_stop_ms);
    }
    return (struct step){.level_w = stages_w(load, stage), .stage = stage, .at_ms = at_ms};
}

static void keep_stages(const struct load_settings *load, struct load_memory *memory)
{
    if (memory->stage == 0)
        memory->stage = 1;
    if (memory->stage > load->stages)
        memory->stage = load->stages;
    memory->level_w = stages_w(load, memory->stage);
}

static void describe_staged(const struct load_settings *load, const char *phases, struct text *text)
{
    write_power(load->power_w, text);
    text_add(text, " on %s, by %u contactors that close one after another.", phases, load->stages);
}

/* ---- a set-point ----------------------------------------------------------------- */

static int32_t least_w(const struct load_settings *load, const struct load_memory *memory)
{
    (void)memory;
    return load->least_w;
}

static int32_t level_w(const struct load_settings *load, const struct load_memory *memory)
{
    (void)load;
    return memory ? memory->level_w : 0;
}

/* Its steps count from nothing: the last one may end short of its power. */
static int32_t last_step_w(const struct load_settings *load, const struct load_memory *memory)
{
    (void)memory;
    return (int32_t)maximum_64(load->power_w / load->step_w * load->step_w, load->least_w);
}

static struct step step_setpoint(const struct load_settings *load, const struct load_memory *memory,
                                 enum basis basis, int64_t target_w)
{
    int64_t to_w = minimum_64(target_w, last_step_w(load, memory)) / load->step_w * load->step_w;
    (void)basis;
    return (struct step){.level_w = (int32_t)maximum_64(to_w, load->least_w),
                         .at_ms = memory->level_since.ms + ADJUST_MS};
}

static void keep_setpoint(const struct load_settings *load, struct load_memory *memory)
{
    if (memory->level_w > load->power_w)
        memory->level_w = load->power_w;
}

static void describe_setpoint(const struct load_settings *load, const char *phases,
                              struct text *text)
{
    text_add(text, "Follows a set-point from ");
    write_power(load->least_w, text);
    text_add(text, " to ");
    write_power(last_step_w(load, NULL), text);
    text_add(text, " in steps of ");
    write_power(load->step_w, text);
    text_add(text, " on %s; with less it pauses.", phases);
}

/* ---- the rows -------------------------------------------------------------------- */

const struct setting_choice kind_choices[] = {
    {"switched", LOAD_SWITCHED, "one contactor"},
    {"staged", LOAD_STAGED, "several contactors, closed one after another"},
    {"setpoint", LOAD_SETPOINT,
     "follows a set-point in watts or amps; its supply is never switched"},
    {"request", LOAD_REQUEST,
     "a start contact that a heat pump or charger obeys in its own time; its supply is never "
     "switched"},
    {NULL, 0, NULL},
};

static const struct kind kinds[] = {
    [LOAD_SWITCHED] = {.keep_level = keep_own,
                       .shows_step = true,
                       .learns_w = true,
                       .start_key = "power",
                       .describe = describe_switched},
    [LOAD_STAGED] = {.start_w = first_stage_w,
                     .expected_w = closed_stages_w,
                     .most_w = all_stages_w,
                     .step = step_stages,
                     .keep_level = keep_stages,
                     .has_stages = true,
                     .needs_power = true,
                     .start_key = "stages",
                     .describe = describe_staged},
    [LOAD_SETPOINT] = {.start_w = least_w,
                       .expected_w = level_w,
                       .most_w = last_step_w,
                       .step = step_setpoint,
                       .keep_level = keep_setpoint,
                       .follows = true,
                       .has_range = true,
                       .needs_power = true,
                       .start_key = "least",
                       .obeys = "set-point",
                       .describe = describe_setpoint},
    [LOAD_REQUEST] = {.keep_level = keep_own,
                      .learns_w = true,
                      .start_key = "power",
                      .obeys = "request",
                      .describe = describe_request},
};

const struct kind *kind_of(const struct load_settings *load)
{
    return &kinds[load->kind];
}
