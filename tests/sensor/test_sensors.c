/* test_sensors.c - sensors with real files in a folder, and messages. */
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../core/suite.h"
#include "sensor/kind.h"
#include "sensor/sensors.h"

enum { ROUND = 7, EVERY_MS = 10000 };

static char folder[] = "/tmp/sluice-sensor-XXXXXX";
static struct mailbox *answers;
static struct sensors *sensors;
static struct mono now;

static void write_file(const char *name, const char *text)
{
    char at[256];
    snprintf(at, sizeof at, "%s/%s", folder, name);
    FILE *file = fopen(at, "w");
    ck_assert_ptr_nonnull(file);
    fputs(text, file);
    fclose(file);
}

static struct sensor_settings of_kind(uint8_t kind, const char *file)
{
    struct sensor_settings settings = {.name = "tank",
                                       .kind = kind,
                                       .every_ms = EVERY_MS,
                                       .r25_ohm = 10000,
                                       .beta_k = 3977,
                                       .divider_ohm = 10000,
                                       .supply_mv = 3300,
                                       .topic = "cellar/tank",
                                       .max_age_ms = 60000};
    snprintf(settings.file, sizeof settings.file, "%s/%s", folder, file);
    return settings;
}

static void begin(const struct sensor_settings *settings)
{
    now = (struct mono){1000};
    answers = mailbox_new(4, sizeof(struct sensor_answer));
    sensors = sensors_new(settings, 1, ROUND, answers, now);
    ck_assert_ptr_nonnull(sensors);
}

static void end(void)
{
    sensors_free(sensors);
    mailbox_free(answers);
}

static struct sensor_view seen(void)
{
    return sensors_view(sensors, 0, now);
}

/* The next reading, to its end. */
static struct sensor_view look(int64_t ms)
{
    struct sensor_answer answer;
    now = mono_after(now, ms);
    sensors_ask(sensors, now);
    while (sensors_under_way(sensors) > 0) {
        mailbox_wait(answers);
        while (mailbox_take(answers, &answer))
            sensors_answer(sensors, &answer, now);
    }
    return seen();
}

static void assert_reads(int32_t mc, struct sensor_view view)
{
    ck_assert_msg(view.source.quality == READING_FRESH, "%s", view.detail);
    ck_assert_int_eq(view.mc, mc);
    ck_assert(!view.troubled);
}

static void make_folder(void)
{
    if (!mkdtemp(folder))
        abort();
}

static void remove_folder(void)
{
    char command[64];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    if (system(command) != 0)
        abort();
}

/* ---- 1-wire -----------------------------------------------------------------------------------
 */

START_TEST(test_a_1_wire_file_is_thousandths_of_a_degree)
{
    struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "temperature");
    write_file("temperature", "54312\n");
    begin(&settings);
    ck_assert_int_eq(seen().source.quality, READING_ABSENT);
    assert_reads(54312, look(0));
    write_file("temperature", "-1250\n");
    assert_reads(-1250, look(60000));
    end();
}
END_TEST

/* As in the kernel's Documentation/w1/slaves/w1_therm.rst; the bytes are from memory. */
START_TEST(test_the_older_1_wire_file_counts_only_with_its_check_sum)
{
    struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "w1_slave");
    write_file("w1_slave", "69 03 4b 46 7f ff 07 10 c3 : crc=c3 YES\n"
                           "69 03 4b 46 7f ff 07 10 c3 t=54562\n");
    begin(&settings);
    assert_reads(54562, look(0));
    write_file("w1_slave", "69 03 4b 46 7f ff 07 10 00 : crc=c3 NO\n"
                           "69 03 4b 46 7f ff 07 10 00 t=12345\n");
    struct sensor_view view = look(EVERY_MS);
    ck_assert_int_eq(view.mc, 54562); /* one bad one takes nothing away */
    ck_assert_int_eq(view.source.quality, READING_FRESH);
    ck_assert_ptr_nonnull(strstr(view.detail, "check sum"));
    end();
}
END_TEST

START_TEST(test_what_stays_away_counts_as_none_and_is_troubled)
{
    struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "temperature");
    write_file("temperature", "54312\n");
    begin(&settings);
    assert_reads(54312, look(0));
    settings = of_kind(SENSOR_ONE_WIRE, "temperature");
    ck_assert_int_eq(unlink(settings.file), 0);
    ck_assert_int_eq(look(EVERY_MS).source.quality, READING_FRESH);
    struct sensor_view view = look(3 * EVERY_MS);
    ck_assert_int_eq(view.source.quality, READING_STALE);
    ck_assert(view.troubled);
    ck_assert_ptr_nonnull(strstr(view.detail, "No such file"));
    write_file("temperature", "54000\n");
    assert_reads(54000, look(EVERY_MS));
    end();
}
END_TEST

START_TEST(test_what_cannot_be_so_counts_as_none_in_the_end)
{
    struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "temperature");
    write_file("temperature", "85000\n");
    begin(&settings);
    look(0);
    struct sensor_view view = look(4 * EVERY_MS);
    ck_assert_int_eq(view.source.quality, READING_IMPLAUSIBLE);
    ck_assert_int_eq(view.fault, SENSOR_POWER_ON);
    ck_assert(view.troubled);
    end();
}
END_TEST

START_TEST(test_what_is_no_number_is_quoted)
{
    static const char *const rows[] = {"",      "nan\n",     "0x20\n",    "54 312\n",
                                       "1e4\n", "54312 C\n", "\001\002\n"};
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "temperature");
        write_file("temperature", rows[k]);
        begin(&settings);
        struct sensor_view view = look(0);
        ck_assert_msg(view.source.quality == READING_ABSENT, "%s", rows[k]);
        ck_assert_ptr_nonnull(strstr(view.detail, "temperature"));
        end();
    }
}
END_TEST

/* Nobody writes into the pipe: a reader that waited would never come to an end. */
START_TEST(test_a_pipe_in_its_place_holds_nothing_up)
{
    struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "pipe");
    ck_assert_int_eq(mkfifo(settings.file, 0600), 0);
    begin(&settings);
    ck_assert_int_eq(look(0).source.quality, READING_ABSENT);
    end();
}
END_TEST

START_TEST(test_one_under_way_is_not_asked_again)
{
    struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "temperature");
    write_file("temperature", "54312\n");
    begin(&settings);
    sensors_ask(sensors, now);
    sensors_ask(sensors, mono_after(now, EVERY_MS));
    ck_assert_int_eq(sensors_under_way(sensors), 1);
    end();
}
END_TEST

START_TEST(test_an_answer_of_another_round_is_not_taken)
{
    struct sensor_settings settings = of_kind(SENSOR_ONE_WIRE, "temperature");
    begin(&settings);
    sensors_answer(sensors, &(struct sensor_answer){.round = ROUND - 1, .read = true, .mc = 50000},
                   now);
    ck_assert_int_eq(seen().source.quality, READING_ABSENT);
    ck_assert_int_eq(sensors_under_way(sensors), 0);
    end();
}
END_TEST

/* ---- a thermistor ------------------------------------------------------------------------------
 */

static void write_adc(double raw, const char *scale_name)
{
    char text[32];
    snprintf(text, sizeof text, "%.0f\n", raw);
    write_file("in_voltage3_raw", text);
    write_file(scale_name, "0.805664062\n"); /* 3300 mV / 4096 */
}

static double raw_of(double ohm, bool to_ground)
{
    double share = to_ground ? ohm / (ohm + 10000) : 10000 / (ohm + 10000);
    return share * 3300 / 0.805664062;
}

/* Resistances of a 10 kohm thermistor of B25/85 = 3977 K as its maker tabulates them (ratios
 * R/R25; from memory). B is taken between 25 and 85 C; a degree and a half is what it may be off
 * between 0 and 100. */
START_TEST(test_a_thermistor_reads_as_its_makers_table)
{
    static const struct {
        double celsius, ohm;
    } table[] = {{0, 32650}, {25, 10000}, {50, 3605}, {60, 2490}, {85, 1070}, {100, 679}};
    for (size_t k = 0; k < COUNT_OF(table); k++)
        for (int side = SENSOR_TO_GROUND; side <= SENSOR_TO_SUPPLY; side++) {
            struct sensor_settings settings = of_kind(SENSOR_NTC, "in_voltage3_raw");
            settings.side = (uint8_t)side;
            write_adc(raw_of(table[k].ohm, side == SENSOR_TO_GROUND), "in_voltage3_scale");
            begin(&settings);
            struct sensor_view view = look(0);
            ck_assert_msg(view.source.quality == READING_FRESH, "%s", view.detail);
            ck_assert_double_eq_tol(view.mc / 1000.0, table[k].celsius, 1.5);
            end();
        }
}
END_TEST

START_TEST(test_the_scale_of_all_channels_does_and_without_one_it_is_not_read)
{
    struct sensor_settings settings = of_kind(SENSOR_NTC, "in_voltage3_raw");
    char scale[160];
    write_adc(raw_of(10000, true), "in_voltage_scale");
    snprintf(scale, sizeof scale, "%s/in_voltage3_scale", folder);
    unlink(scale);
    begin(&settings);
    ck_assert_double_eq_tol(look(0).mc / 1000.0, 25, 0.1);
    end();
    snprintf(scale, sizeof scale, "%s/in_voltage_scale", folder);
    unlink(scale);
    begin(&settings);
    struct sensor_view view = look(0);
    ck_assert_int_eq(view.source.quality, READING_ABSENT);
    ck_assert_ptr_nonnull(strstr(view.detail, "in_voltage_scale"));
    end();
}
END_TEST

START_TEST(test_an_offset_is_added_before_the_scale)
{
    struct sensor_settings settings = of_kind(SENSOR_NTC, "in_voltage3_raw");
    write_adc(raw_of(10000, true) - 100, "in_voltage3_scale");
    write_file("in_voltage3_offset", "100\n");
    begin(&settings);
    ck_assert_double_eq_tol(look(0).mc / 1000.0, 25, 0.1);
    end();
    write_file("in_voltage3_offset", "0\n");
}
END_TEST

START_TEST(test_a_cut_or_shorted_thermistor_is_said_to_be_so)
{
    static const double raw[] = {0, 4095};
    for (size_t k = 0; k < COUNT_OF(raw); k++) {
        struct sensor_settings settings = of_kind(SENSOR_NTC, "in_voltage3_raw");
        write_adc(raw[k], "in_voltage3_scale");
        begin(&settings);
        struct sensor_view view = look(0);
        ck_assert_int_eq(view.source.quality, READING_ABSENT);
        ck_assert_ptr_nonnull(strstr(view.detail, "possible cut or shorted wire"));
        end();
    }
}
END_TEST

/* ---- a topic ------------------------------------------------------------------------------------
 */

START_TEST(test_a_message_counts_until_it_is_too_old)
{
    struct sensor_settings settings = of_kind(SENSOR_TOPIC, "none");
    settings.file[0] = '\0';
    begin(&settings);
    sensors_message(sensors, "cellar/tank", "54.1875", false, now);
    assert_reads(54188, seen());
    now = mono_after(now, 60000);
    ck_assert_int_eq(seen().source.quality, READING_FRESH);
    now = mono_after(now, 1);
    ck_assert_int_eq(seen().source.quality, READING_STALE);
    ck_assert(seen().troubled);
    ck_assert_int_eq(sensors_next(sensors).ms, MONO_NEVER.ms);
    end();
}
END_TEST

START_TEST(test_a_retained_message_another_topic_and_what_is_no_number_are_not_taken)
{
    struct sensor_settings settings = of_kind(SENSOR_TOPIC, "none");
    begin(&settings);
    sensors_message(sensors, "cellar/tank", "54", true, now);
    sensors_message(sensors, "cellar/other", "54", false, now);
    ck_assert_int_eq(seen().source.quality, READING_ABSENT);
    sensors_message(sensors, "cellar/tank", "{\"t\": 54}", false, now);
    ck_assert_int_eq(seen().source.quality, READING_ABSENT);
    ck_assert_ptr_nonnull(strstr(seen().detail, "{\"t\": 54}"));
    sensors_message(sensors, "cellar/tank", "999999999999", false, now);
    ck_assert_int_eq(seen().fault, SENSOR_OUT_OF_RANGE);
    end();
}
END_TEST

/* ---- at a reload
 * ---------------------------------------------------------------------------------- */

START_TEST(test_the_same_sensor_goes_on_with_what_it_said)
{
    struct sensor_settings settings = of_kind(SENSOR_TOPIC, "none");
    begin(&settings);
    sensors_message(sensors, "cellar/tank", "54", false, now);
    struct sensors *after = sensors_new(&settings, 1, ROUND + 1, answers, now);
    sensors_take_over(after, 0, sensors, 0);
    ck_assert_int_eq(sensors_view(after, 0, now).mc, 54000);
    ck_assert_int_eq(sensors_view(after, 0, now).source.quality, READING_FRESH);
    sensors_free(after);
    struct sensor_settings moved = settings;
    moved.load_index = 3;
    ck_assert(sensor_is_same(&settings, &moved));
    strcpy(moved.topic, "cellar/other");
    ck_assert(!sensor_is_same(&settings, &moved));
    end();
}
END_TEST

START_TEST(test_every_row_of_every_kind_is_there)
{
    size_t own = 0;
    for (uint8_t kind = SENSOR_ONE_WIRE; kind <= SENSOR_TOPIC; kind++)
        own += sensor_kind_of(&(struct sensor_settings){.kind = kind})->rows->count;
    ck_assert_uint_eq(sensor_rows.count, own + 4);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_1_wire_file_is_thousandths_of_a_degree,
        test_the_older_1_wire_file_counts_only_with_its_check_sum,
        test_what_stays_away_counts_as_none_and_is_troubled,
        test_what_cannot_be_so_counts_as_none_in_the_end,
        test_what_is_no_number_is_quoted,
        test_a_pipe_in_its_place_holds_nothing_up,
        test_one_under_way_is_not_asked_again,
        test_an_answer_of_another_round_is_not_taken,
        test_a_thermistor_reads_as_its_makers_table,
        test_the_scale_of_all_channels_does_and_without_one_it_is_not_read,
        test_an_offset_is_added_before_the_scale,
        test_a_cut_or_shorted_thermistor_is_said_to_be_so,
        test_a_message_counts_until_it_is_too_old,
        test_a_retained_message_another_topic_and_what_is_no_number_are_not_taken,
        test_the_same_sensor_goes_on_with_what_it_said,
        test_every_row_of_every_kind_is_there,
    };
    make_folder();
    int status = suite_run("sensors", tests, COUNT_OF(tests));
    remove_folder();
    return status;
}
