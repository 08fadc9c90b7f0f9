"""What every event that is no command leads to, at every place of `controls_table`, in its codes. Kept by hand."""

EVENT_ORDER = (
    *(
        "tick",
        "tone",
        "microphone_lost",
        "loudspeaker_lost",
        "device_back",
        "interruption",
        "not_understood",
        "too_noisy",
    ),
    *("doubted_help", "doubted_stop"),
)
EVENTS = """
                         tik ton mic spk bck brk mum noi dbt dst
choose_first             0   0   los los bck brA unt unt dbt stp
side                     0   0   los los bck brA unt unt dbt stp
tell                     0   0   los los bck brA unt unt dbt stp
choose_soft              0   0   los los bck brA unt unt dbt stp
finding                  0   0   los los bck brA unt unt dbt stp
measure                  0   0   los los bck brA unt unt dbt stp
partly                   0   0   los los bck brA unt unt dbt stp
identify                 0   0   los los bck brA unt unt dbt stp
confirm                  0   0   los los bck brA unt unt dbt stp
expose                   0   0   los los bck brA unt unt dbt stp
expose_short             0   aft los los bck brR unt unt dbt stp
strap                    0   aft los los bck brR unt unt dbt stp
after                    0   aft los los bck brR unt unt dbt stp
teach                    0   aft los los bck brR unt unt dbt stp
corrected                0   0   los los bck brA unt unt dbt stp
reviewing                0   0   los los bck brA unt unt dbt stp
reviewing_confirm        0   0   los los bck brA unt unt dbt stp
reviewing_light          0   aft los los bck brR unt unt dbt stp
reading_back             0   0   los los bck brA unt unt dbt stp
reading_back_after_light 0   aft los los bck brR unt unt dbt stp
lit                      lso bee cut los bck brC unt unt unt ofs
cried                    0   0   los los bck brQ unt unt unt stp
lit_strap                lso bee cut los bck brC unt unt unt ofs
warmth                   0   aft los los bck brR unt unt dbt stp
late_heat                0   aft los los bck brR unt unt dbt stp
late_heat_at_end         0   aft los los bck brO unt unt dbt stp
held_red                 0   0   los los bck brH unt unt dbt stp
held_red_lit             0   aft los los bck brH unt unt dbt stp
held_stop                0   0   los los bck brH unt unt dbt stp
held_corrected           0   0   los los bck brH unt unt dbt stp
held_reviewed            0   0   los los bck brA unt unt dbt stp
held_light               0   0   los los bck brH unt unt dbt stp
misheard                 0   0   los los bck brH unt unt dbt stp
open_gap                 0   aft los los bck brO unt unt dbt stp
one_question             0   aft los los bck brO unt unt dbt stp
reconfirm                0   0   los los bck brR unt unt dbt stp
paused                   0   0   los los bck brP unt unt dbt stp
waiting                  0   0   los los bck brP unt unt dbt stp
waiting_read_back        0   0   los los bck brP unt unt dbt stp
paused_after_light       0   aft los los bck brP unt unt dbt stp
waiting_warmth           0   aft los los bck brP unt unt dbt stp
waiting_late             0   aft los los bck brP unt unt dbt stp
noting                   0   0   los los bck brN unt unt unt nst
noting_paused            0   0   los los bck brP unt unt unt stp
noting_light             0   aft los los bck brR unt unt unt stp
noting_read_back         0   0   los los bck brA unt unt unt stp
stray                    0   0   los los bck brS unt unt unt sst
stray_in_a_note          0   0   los los bck brS unt unt unt sst
doubting                 0   0   los los bck brA unt unt unt stp
doubting_light           0   0   los los bck brD unt unt unt sds
doubting_read_back       0   0   los los bck brA unt unt unt stp
doubting_paused          0   0   los los bck brP unt unt unt stp
doubting_warmth          0   aft los los bck brR unt unt unt stp
doubting_reason          0   0   los los bck brH unt unt unt stp
skip_reason              0   0   los los bck brA unt unt dbt stp
hold_role                0   0   los los bck brH unt unt dbt stp
hold_reason              0   0   los los bck brH unt unt dbt stp
hold_code                0   0   los los bck brH unt unt dbt stp
hold_confirm             0   0   los los bck brH unt unt dbt stp
end_role                 0   0   los los bck brP unt unt dbt stp
end_reason               0   0   los los bck brP unt unt dbt stp
end_confirm              0   0   los los bck brP unt unt dbt stp
gap_role                 0   aft los los bck brO unt unt dbt stp
gap_reason               0   aft los los bck brO unt unt dbt stp
gap_confirm              0   aft los los bck brO unt unt dbt stp
narrated                 0   0   los los bck brA unt unt dbt stp
narrated_breath          0   0   los los bck brA unt unt dbt stp
checking                 0   aft los los bck brR unt unt dbt stp
waiting_checked          0   aft los los bck brP unt unt dbt stp
closed                   0   0   0   0   0   0   0   0   0   0
"""
LEADING_ORDER = ("narrate", "guide", "missing", "last")
LEADING = """
                         nar gui mis las
choose_first             nar say mis .
side                     nar say mis .
tell                     nar say mis .
choose_soft              nar say mis .
finding                  nar say mis .
measure                  nar say mis .
partly                   nrb say mis .
identify                 nar say mis .
confirm                  nar say mis .
expose                   nar say .   .
expose_short             nar say .   .
strap                    nar say .   .
after                    nar say mis .
teach                    nar say mis .
corrected                nar say mis .
reviewing                nar say .   .
reviewing_confirm        nar say .   .
reviewing_light          nar say .   .
reading_back             nar say mis .
reading_back_after_light nar say mis .
lit                      of! of! of! of!
cried                    .   .   .   .
lit_strap                of! of! of! of!
warmth                   nar say .   .
late_heat                nar say .   .
late_heat_at_end         nar say .   .
held_red                 nar say mis .
held_red_lit             nar say mis .
held_stop                nar say mis .
held_corrected           nar say mis .
held_reviewed            nar say .   .
held_light               nar say mis .
misheard                 .   .   mis .
open_gap                 nar say .   .
one_question             nar say .   .
reconfirm                nar say .   .
paused                   .   .   .   .
waiting                  .   .   .   .
waiting_read_back        .   .   .   .
paused_after_light       .   .   .   .
waiting_warmth           .   .   .   .
waiting_late             .   .   .   .
noting                   .   .   .   .
noting_paused            .   .   .   .
noting_light             .   .   .   .
noting_read_back         .   .   .   .
stray                    .   .   .   .
stray_in_a_note          .   .   .   .
doubting                 .   .   .   .
doubting_light           .   .   .   .
doubting_read_back       .   .   .   .
doubting_paused          .   .   .   .
doubting_warmth          .   .   .   .
doubting_reason          .   .   .   .
skip_reason              .   .   mis .
hold_role                .   .   mis .
hold_reason              .   .   mis .
hold_code                .   .   mis .
hold_confirm             .   .   mis .
end_role                 .   .   mis .
end_reason               .   .   mis .
end_confirm              .   .   mis .
gap_role                 .   .   mis .
gap_reason               .   .   mis .
gap_confirm              .   .   mis .
narrated                 say gde mis .
narrated_breath          say nar mis .
checking                 say nar mis .
waiting_checked          .   .   .   .
closed                   0   0   0   0
"""
"""What the commands about who leads, and what is missing, lead to: more columns of `controls_table.COMMANDS`."""
