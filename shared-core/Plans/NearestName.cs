namespace Cardassay.Plans;

/// <summary>Finds what somebody probably meant to write.</summary>
internal static class NearestName
{
    /// <summary>"Did you mean X" where one name is near, else the list of all.</summary>
    public static string Advice(string written, ReadOnlySpan<string> known)
    {
        string nearest = "";
        int least = int.MaxValue;
        foreach (string name in known)
        {
            int distance = Distance(written.ToUpperInvariant(), name.ToUpperInvariant());
            if (distance < least)
            {
                (nearest, least) = (name, distance);
            }
        }

        bool isNear = least <= Math.Max(2, nearest.Length / 2);
        return isNear ? $"Did you mean \"{nearest}\"" : $"Write one of {string.Join(", ", known.ToArray())}";
    }

    /// <summary>Edit distance of Levenshtein: insertions, deletions and replacements, each 1.</summary>
    internal static int Distance(string a, string b)
    {
        // Anything longer is no slip of the pen; it also keeps a hostile file from costing time.
        if (Math.Abs(a.Length - b.Length) > 16)
        {
            return int.MaxValue;
        }

        int[] row = [.. Enumerable.Range(0, b.Length + 1)];
        for (int i = 1; i <= a.Length; i++)
        {
            int diagonal = row[0];
            row[0] = i;
            for (int j = 1; j <= b.Length; j++)
            {
                int replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
                diagonal = row[j];
                row[j] = Math.Min(replaced, Math.Min(row[j], row[j - 1]) + 1);
            }
        }

        return row[b.Length];
    }
}
