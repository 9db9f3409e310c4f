/* result.c - tracks that grow, and sums over them. */
#include "result/result.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/text.h"

static const struct result_amount nothing = {.coldest_c = NAN, .end_c = NAN};

/* ---- growing ------------------------------------------------------------------------------- */

/* Makes place for one more of `size`; false: out of memory. */
static bool grow(struct result *result, void **array, size_t *room, size_t count, size_t size)
{
    if (count < *room)
        return true;
    size_t wanted = *room ? 2 * *room : 64;
    void *more = realloc(*array, wanted * size);
    if (!more) {
        result->lost = true;
        return false;
    }
    *array = more;
    *room = wanted;
    return true;
}

struct result_track *result_load(struct result *result, const char *name)
{
    for (size_t k = 0; k < result->load_count; k++)
        if (strcmp(result->load[k].name, name) == 0)
            return &result->load[k];
    struct result_track *more = realloc(result->load, (result->load_count + 1) * sizeof(*more));
    if (!more) {
        result->lost = true;
        return NULL;
    }
    result->load = more;
    struct result_track *load = &more[result->load_count++];
    *load = (struct result_track){.priority = INT_MAX};
    struct text text = text_in(load->name, sizeof(load->name));
    text_add(&text, "%s", name);
    return load;
}

struct result_piece *result_add_piece(struct result *result, struct result_track *track,
                                      int64_t from_ms, int64_t to_ms)
{
    void *array = track->piece;
    if (!grow(result, &array, &track->room, track->count, sizeof(track->piece[0])))
        return NULL;
    track->piece = array;
    struct result_piece *piece = &track->piece[track->count++];
    *piece = (struct result_piece){from_ms, to_ms, nothing};
    return piece;
}

struct result_run *result_add_run(struct result *result, struct result_track *track)
{
    void *array = track->run;
    if (!grow(result, &array, &track->run_room, track->run_count, sizeof(track->run[0])))
        return NULL;
    track->run = array;
    struct result_run *run = &track->run[track->run_count++];
    *run = (struct result_run){.began = "", .ended = ""};
    return run;
}

struct result_event *result_add_event(struct result *result, int64_t at_ms, const char *subject)
{
    void *array = result->event;
    if (!grow(result, &array, &result->event_room, result->event_count, sizeof(result->event[0])))
        return NULL;
    result->event = array;
    struct result_event *event = &result->event[result->event_count++];
    *event = (struct result_event){.at_ms = at_ms};
    struct text text = text_in(event->subject, sizeof(event->subject));
    text_add(&text, "%s", subject);
    return event;
}

/* ---- sums ---------------------------------------------------------------------------------- */

static int64_t overlap_ms(const struct result_piece *piece, int64_t from_ms, int64_t to_ms)
{
    int64_t from = piece->from_ms > from_ms ? piece->from_ms : from_ms;
    int64_t to = piece->to_ms < to_ms ? piece->to_ms : to_ms;
    return to > from ? to - from : 0;
}

/* The first piece that ends after `at_ms`. */
static size_t first_after(const struct result_track *track, int64_t at_ms)
{
    size_t low = 0, high = track->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (track->piece[middle].to_ms <= at_ms)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static void add(struct result_amount *sum, const struct result_amount *amount, int64_t part_ms,
                int64_t whole_ms)
{
    double share = (double)part_ms / (double)whole_ms;
    sum->spare_mwh += amount->spare_mwh * share;
    sum->grid_mwh += amount->grid_mwh * share;
    sum->on_ms += amount->on_ms * part_ms / whole_ms;
    sum->draws_ms += amount->draws_ms * part_ms / whole_ms;
    sum->starts += amount->starts;
    sum->kept += amount->kept;
    sum->missed += amount->missed;
    sum->untaken += amount->untaken;
    sum->coldest_c = fmin(sum->coldest_c, amount->coldest_c); /* fmin leaves NAN out */
    sum->end_c = amount->end_c;
}

struct result_amount result_sum(const struct result_track *track, int64_t from_ms, int64_t to_ms)
{
    struct result_amount sum = nothing;
    for (size_t k = first_after(track, from_ms); k < track->count; k++) {
        const struct result_piece *piece = &track->piece[k];
        if (piece->from_ms >= to_ms)
            break;
        add(&sum, &piece->amount, overlap_ms(piece, from_ms, to_ms), piece->to_ms - piece->from_ms);
    }
    return sum;
}

struct result_amount result_total(const struct result *result, const struct result_track *track)
{
    return result_sum(track, result->begin_ms, result->end_ms);
}

int64_t result_covered_ms(const struct result_track *track, int64_t from_ms, int64_t to_ms)
{
    int64_t covered_ms = 0;
    for (size_t k = first_after(track, from_ms); k < track->count; k++)
        covered_ms += overlap_ms(&track->piece[k], from_ms, to_ms);
    return covered_ms;
}

/* ---- the rest ------------------------------------------------------------------------------ */

int32_t result_second(const struct result *result, int64_t at_ms)
{
    return local_of_wall(&result->zone, (struct wall){at_ms}).second;
}

const char *result_title(const struct result_track *load)
{
    return *load->title ? load->title : load->name;
}

static void free_track(struct result_track *track)
{
    free(track->piece);
    free(track->run);
}

void result_free(struct result *result)
{
    struct result_track *const own[] = {&result->grid, &result->spare, &result->solar, &result->use,
                                        &result->tank};
    for (size_t k = 0; k < sizeof(own) / sizeof(own[0]); k++)
        free_track(own[k]);
    for (size_t k = 0; k < result->load_count; k++)
        free_track(&result->load[k]);
    free(result->load);
    free(result->event);
    *result = (struct result){.load_count = 0};
}
