/* listened.c - what listening loses and what it gets wrong, in simulated time.
 *
 * A day of a saturated 115,200-baud line goes through the listener as fast as the
 * machine allows: a master asks three units for the blocks of usual maps without a
 * pause, each value follows from its unit, address and the time, and what comes out is
 * compared with what went in. Then another day with one byte in a thousand hit. The bytes
 * come in pieces as a USB adapter gives them, each 16 ms (common practice, no source),
 * so no gap between frames is left.
 *
 * A CRC of 16 bits lets through one in 65,536 frames that are hit in more than one place;
 * that bounds what any listener can promise, and is printed. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frame/line.h"
#include "frame/listen.h"

enum {
    CHARACTERS_PER_S = 115200 / 11,
    GAP_CHARACTERS = 19 /* 1.75 ms */,
    PIECE = 168 /* in 16 ms */
};

/* Input registers of a float meter, holding registers of an integer meter, a SunSpec
 * model; and three reads of one length, which only their order tells apart. */
static const struct line_question round_of_questions[] = {
    {1, 4, 0x0000, 20}, {1, 4, 0x0034, 2},  {1, 4, 0x0046, 6}, {2, 3, 0x5b00, 30},
    {2, 3, 0x5000, 8},  {3, 3, 40070, 107}, {3, 3, 40000, 2},  {1, 4, 0x000c, 2},
    {1, 4, 0x000e, 2},  {1, 4, 0x0010, 2},  {1, 4, 0x0156, 4},
};
enum { ROUND = sizeof round_of_questions / sizeof round_of_questions[0] };

struct day {
    struct listener listener;
    struct line_tally tally;
    uint64_t chance, characters, exchanges, whole, hit_more_than_once;
    unsigned hit_in; /* one byte in so many; 0: none */
    uint8_t piece[PIECE];
    size_t used;
};

static int64_t now_us(const struct day *day)
{
    return (int64_t)(day->characters * 1000000 / CHARACTERS_PER_S);
}

static void put(struct day *day, uint8_t byte)
{
    day->piece[day->used++] = byte;
    day->characters++;
    if (day->used == PIECE) {
        listen_feed(&day->listener, day->piece, day->used, now_us(day));
        day->used = 0;
    }
}

static unsigned put_frame(struct day *day, const uint8_t frame[], size_t length)
{
    unsigned hits = 0;
    for (size_t i = 0; i < length; i++) {
        bool hit = day->hit_in && line_random(&day->chance) % day->hit_in == 0;
        put(day, hit ? frame[i] ^ (uint8_t)(1 + line_random(&day->chance) % 255) : frame[i]);
        hits += hit;
    }
    day->characters += GAP_CHARACTERS;
    day->hit_more_than_once += hits > 1;
    return hits;
}

static struct day *play(unsigned hit_in, uint64_t seconds)
{
    static struct {
        uint8_t ask[FRAME_RTU_MAX], answer[FRAME_RTU_MAX];
        size_t ask_length, answer_length;
    } frames[ROUND];
    for (unsigned i = 0; i < ROUND; i++) {
        frames[i].ask_length = line_ask(&round_of_questions[i], frames[i].ask);
        frames[i].answer_length = line_answer(&round_of_questions[i], frames[i].answer);
    }
    struct day *day = calloc(1, sizeof *day);
    if (!day)
        exit(EXIT_FAILURE);
    day->chance = 1;
    day->hit_in = hit_in;
    listen_begin(&day->listener, line_judge, &day->tally);
    for (unsigned i = 0; day->characters < seconds * CHARACTERS_PER_S; i = (i + 1) % ROUND) {
        unsigned hits = put_frame(day, frames[i].ask, frames[i].ask_length);
        hits += put_frame(day, frames[i].answer, frames[i].answer_length);
        day->exchanges++;
        day->whole += hits == 0;
    }
    listen_feed(&day->listener, day->piece, day->used, now_us(day));
    listen_quiet(&day->listener);
    return day;
}

int main(void)
{
    struct day *clean = play(0, 86400);
    printf("figure listened_lost %" PRIu64 " frames (of %" PRIu64
           " in 24 simulated hours at 115,200 baud without a pause)\n",
           2 * clean->exchanges - 2 * clean->tally.right, 2 * clean->exchanges);
    struct day *noisy = play(1000, 86400);
    printf("figure listened_wrong %" PRIu64 " readings (1 byte in 1,000 hit, 24 simulated hours, "
           "%" PRIu64 " right; by its 16 bits the CRC lets through %.2f)\n",
           noisy->tally.wrong, noisy->tally.right, (double)noisy->hit_more_than_once / 65536);
    printf("figure listened_good_in_noise %.2f %% (of the %" PRIu64 " exchanges left whole, which "
           "are %.2f %% of all: the bound)\n",
           100.0 * (double)noisy->tally.right / (double)noisy->whole, noisy->whole,
           100.0 * (double)noisy->whole / (double)noisy->exchanges);
    bool failed = clean->tally.wrong != 0;
    free(clean);
    free(noisy);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
