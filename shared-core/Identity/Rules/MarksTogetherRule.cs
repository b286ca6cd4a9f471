using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>Declared marks that cannot go together, or not with this kind of card.</summary>
internal sealed class MarksTogetherRule : IFindingRule
{
    public string Id => "marks-together";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Status.Value is not { } s)
        {
            yield break;
        }

        foreach (Finding finding in Missing(s, evidence.Registers.Scr.Value))
        {
            yield return finding;
        }

        if (s.ApplicationClass == 2 && (s.CommandQueue == 0 || !s.Cache))
        {
            yield return this.Doubt(
                "The card declares A2 but not the command queue and the cache A2 is built on.",
                "SD Association, application performance class; " + Sources.Later,
                Sources.ReadElsewhere,
                Value("APP_PERF_CLASS", $"{s.ApplicationClass}"),
                Value("command queue", $"{s.CommandQueue}"),
                Value("cache", $"{(s.Cache ? 1 : 0)}"));
        }

        if (s.VideoClass >= 30 && s.UhsGrade < 3)
        {
            yield return this.Doubt(
                Text($"The card declares V{s.VideoClass} but not U3, the UHS grade of the same speed."),
                Sources.Memory,
                Sources.ReadElsewhere,
                Value("VIDEO_SPEED_CLASS", $"{s.VideoClass}"),
                Value("UHS_SPEED_GRADE", $"{s.UhsGrade}"));
        }

        if (s.VideoClass >= 10 && s.SpeedClass < 10)
        {
            yield return this.Doubt(
                Text($"The card declares V{s.VideoClass} but only speed class {s.SpeedClass}."),
                Sources.Memory,
                Sources.ReadElsewhere,
                Value("VIDEO_SPEED_CLASS", $"{s.VideoClass}"),
                Value("SPEED_CLASS", $"{s.SpeedClass}"));
        }

        if (s.UhsGrade > 0 && evidence.Registers.Csd.Value is { Family: CardFamily.Sdsc })
        {
            yield return this.Doubt(
                "The card declares a UHS grade, which standard capacity cards cannot have.",
                Sources.Standard + ", 3.9",
                Sources.ReadElsewhere,
                Value("UHS_SPEED_GRADE", $"{s.UhsGrade}"));
        }
    }

    /// <summary>What a declared mark or function needs beside it.</summary>
    private IEnumerable<Finding> Missing(SdStatus s, Scr? scr)
    {
        if (s.UhsGrade > 0 && s.SpeedClass == 0)
        {
            yield return this.Doubt(
                Text($"The card declares UHS grade {s.UhsGrade} and speed class 0; a card of that grade is of a speed class too."),
                Sources.Memory,
                Sources.ReadElsewhere,
                Value("UHS_SPEED_GRADE", $"{s.UhsGrade}"),
                Value("SPEED_CLASS", $"{s.SpeedClass}"));
        }

        if (s.CommandQueue > 0 && scr is { SupportsExtensionRegisters: false })
        {
            yield return this.Doubt(
                "The card declares a command queue but not the commands (CMD48, CMD49) by which it is switched on.",
                Sources.Later,
                Sources.ReadElsewhere,
                Value("command queue", $"{s.CommandQueue}"),
                Value("CMD_SUPPORT", $"{scr.CommandSupport:b4}"));
        }

        if (s.VideoClass > 0 && s.VideoAllocationUnitMegabytes == 0)
        {
            yield return this.Doubt(
                Text($"The card declares V{s.VideoClass} but not the allocation unit (VSC_AU_SIZE) over which that class is defined."),
                Sources.Later,
                Sources.ReadElsewhere,
                Value("VIDEO_SPEED_CLASS", $"{s.VideoClass}"),
                Value("VSC_AU_SIZE", $"{s.VideoAllocationUnitMegabytes}"));
        }

        if (s.VideoClass is 6 or 10 && s.UhsGrade == 0)
        {
            yield return this.Note(
                Text($"The card declares V{s.VideoClass} and no UHS grade; cards of that class are of U1 as a rule."),
                Sources.Memory,
                null,
                Value("VIDEO_SPEED_CLASS", $"{s.VideoClass}"),
                Value("UHS_SPEED_GRADE", $"{s.UhsGrade}"));
        }
    }
}
