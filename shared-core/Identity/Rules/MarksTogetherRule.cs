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
}
