namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Seeds that follow from names, the same on every machine and in every run of the program.</summary>
internal static class StableSeed
{
    /// <summary>FNV-1a (Fowler, Noll, Vo; 32 bits) of the text, made non-negative.</summary>
    public static int Of(string text)
    {
        uint hash = 2166136261;
        foreach (char c in text)
        {
            hash = (hash ^ c) * 16777619;
        }

        return (int)(hash & int.MaxValue);
    }
}
