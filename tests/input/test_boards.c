/* test_boards.c - inputs through a real bus, of boards that are real processes: pymodbus, and a
 * rogue whose inputs are opened and closed, or that is silent or says no. Only the moments are
 * the test's own. */
#include "bus/rig.h"
#include "input/input.h"

#include <check.h>
#include <string.h>

#include "../core/suite.h"

enum { EVERY_MS = 500 };

struct board {
    struct rig rig;
    struct input_bank *bank;
    uint16_t count;
    int under_way;
};

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    struct board *board = context;
    (void)bus_index;
    board->under_way += bus_post(board->rig.bus, job);
    return true;
}

static struct board *board_new(const char *program, const char *wire,
                               const struct input_settings settings[], uint16_t count)
{
    static struct board board;
    board = (struct board){.rig = rig_start(program, wire), .count = count};
    const struct input_doors doors = {.context = &board, .post = post};
    board.rig.now.ms = 1000;
    board.bank = input_bank_new(settings, count, 0, &doors, board.rig.now);
    return &board;
}

static void board_free(struct board *board)
{
    input_bank_free(board->bank);
    rig_stop(&board->rig);
}

/* Reads so often, in steps of the inputs' own pace. */
static void pass(struct board *board, int rounds)
{
    struct bus_answer answer;
    for (int k = 0; k < rounds; k++) {
        input_bank_ask(board->bank, board->rig.now);
        for (; board->under_way > 0; board->under_way--) {
            mailbox_wait(board->rig.answers);
            ck_assert(mailbox_take(board->rig.answers, &answer));
            input_bank_answer(board->bank, &answer);
        }
        board->rig.now.ms += EVERY_MS;
    }
}

static struct input_view view(const struct board *board, uint16_t index)
{
    return input_bank_view(board->bank, index, board->rig.now);
}

static struct input_settings input_at(uint8_t role, uint8_t table, uint16_t address)
{
    return (struct input_settings){.role = role,
                                   .bus = "relays",
                                   .unit = RIG_UNIT,
                                   .table = table,
                                   .address = address,
                                   .every_ms = EVERY_MS,
                                   .debounce_ms = 100};
}

/* The inputs of section 6.2's example, and the coils of section 6.1's. */
START_TEST(test_inputs_are_read_as_the_board_has_them)
{
    static const char *const wires[] = {"tcp", "rtu"};
    const bool closed[] = {false, true, true, false, true, true};
    for (int w = 0; w < 2; w++) {
        const struct input_settings settings[] = {input_at(INPUT_CONTACT, INPUT_DISCRETE, 196),
                                                  input_at(INPUT_CONTACT, INPUT_DISCRETE, 198),
                                                  input_at(INPUT_SUPPLY, INPUT_DISCRETE, 203),
                                                  input_at(INPUT_SUPPLY, INPUT_DISCRETE, 206),
                                                  input_at(INPUT_INHIBIT, INPUT_COIL, 19),
                                                  input_at(INPUT_INHIBIT, INPUT_COIL, 21)};
        struct board *board = board_new("peer_pymodbus.py", wires[w], settings, 6);
        pass(board, 3);
        for (uint16_t k = 0; k < 6; k++) {
            ck_assert_msg(view(board, k).known, "%s, input %u: %s", wires[w], k,
                          view(board, k).detail);
            ck_assert_msg(view(board, k).closed == closed[k], "%s, input %u", wires[w], k);
        }
        board_free(board);
    }
}
END_TEST

START_TEST(test_a_press_a_silence_and_a_refusal)
{
    const struct input_settings settings[] = {input_at(INPUT_BUTTON, INPUT_DISCRETE, 0),
                                              input_at(INPUT_SUPPLY, INPUT_DISCRETE, 1)};
    struct board *board = board_new("peer_rogue.py", "pty", settings, 2);
    peer_order(&board->rig.peer, "refuse 1 1"); /* the board has no second input */
    pass(board, 4);
    ck_assert(view(board, 0).known && !view(board, 0).closed);
    ck_assert(!view(board, 1).known);
    peer_order(&board->rig.peer, "input 0 1");
    pass(board, 2);
    ck_assert(input_bank_pressed(board->bank, 0));
    peer_order(&board->rig.peer, "input 0 0");
    pass(board, 2);
    peer_order(&board->rig.peer, "behave silent");
    pass(board, 2);
    peer_order(&board->rig.peer, "input 0 1");
    board->rig.now.ms += 60000;
    peer_order(&board->rig.peer, "behave good");
    pass(board, 24);
    ck_assert(view(board, 0).known && view(board, 0).closed);
    ck_assert(!input_bank_pressed(board->bank, 0)); /* closed while nobody looked */
    ck_assert_int_eq(view(board, 1).trouble, INPUT_UNREAD);
    ck_assert_ptr_nonnull(strstr(view(board, 1).detail, "illegal data address"));
    board_free(board);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {test_inputs_are_read_as_the_board_has_them,
                                  test_a_press_a_silence_and_a_refusal};
    return suite_run("boards", tests, COUNT_OF(tests));
}
